//! After the visit: the report and the recording, as long as the program runs.

use super::offered::kind;
use super::reply::{Reply, nothing_here, reply, with_policy, words};
use super::shared::{Asked, Progress};
use futures::stream::unfold;
use http_body_util::{BodyExt, StreamBody};
use hyper::StatusCode;
use hyper::body::{Bytes, Frame};
use std::fs::File;
use std::io::{self, Read};
use std::sync::PoisonError;

/// Bytes sent at a time.
const PIECE: usize = 64 * 1024;

/// One of the files offered, by its exact name.
pub(super) fn file(asked: &Asked, name: &str) -> Reply {
    let offered = asked.shared.offered.lock();
    let offered = offered.unwrap_or_else(PoisonError::into_inner);
    let Some(found) = offered.iter().find(|file| file.name == name).cloned() else {
        return nothing_here();
    };
    drop(offered);
    let Ok(file) = File::open(&found.path) else {
        return words(StatusCode::GONE, "this file is no longer there");
    };
    let pieces = unfold((file, asked.progress.clone()), |(file, progress)| async {
        let (piece, file) = next_piece(file, &progress)?;
        Some((piece.map(Frame::data), (file, progress)))
    });
    let kind = kind(name);
    let sent = reply(StatusCode::OK, kind, StreamBody::new(pieces).boxed_unsync());
    match kind {
        // Its own policy is in it.
        "text/html; charset=utf-8" => with_policy(sent, "frame-ancestors 'none'"),
        _ => sent,
    }
}

/// This thread has nothing else to do that is urgent: it reads as it sends. Where a file cannot be
/// read on, the connection breaks, so that half of it does not pass for the whole.
fn next_piece(mut file: File, progress: &Progress) -> Option<(io::Result<Bytes>, File)> {
    progress.made();
    let mut piece = vec![0; PIECE];
    match file.read(&mut piece) {
        Ok(0) => None,
        Ok(read) => {
            piece.truncate(read);
            Some((Ok(piece.into()), file))
        }
        Err(error) => Some((Err(error), file)),
    }
}
