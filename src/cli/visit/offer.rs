//! After a visit that was shared: report and recording can be fetched until the program ends.

use super::course::Words;
use super::hands::Wish;
use super::plain;
use crate::cli::live::runtime::Ending;
use crate::cli::share::Share;
use crate::cli::{Failure, out};
use std::path::Path;

/// Offers them to the phones until the user ends it: Ctrl-C, `q` or `stop`, or the end of standard
/// input.
pub(in crate::cli) async fn until_ended(
    mut share: Share,
    report: &Path,
    recording: &Path,
    words: Option<Words>,
    ending: &mut Ending,
) -> Result<(), Failure> {
    share.offer(Some(report), recording);
    let url = share.url();
    out::stdout().line(format!(
        "On the phone: {url} has the report and the recording until this program ends. \
         Ctrl-C ends it, or q and Enter."
    ))?;
    let mut words = words.unwrap_or_else(plain::words);
    loop {
        tokio::select! {
            () = ending.asked() => return Ok(()),
            word = words.recv() => match word {
                None | Some(Ok(Wish::Stop)) => return Ok(()),
                Some(_) => {}
            },
        }
    }
}
