//! From the choice of a sensor to its stream.

use super::choice::Choice;
use super::runtime::Ending;
use super::told::Told;
use crate::cli::Failure;
use crate::transport::Source;
use crate::transport::ble::Scanner;
use crate::units::Rate;
use std::sync::Arc;

/// What is wanted of a live sensor.
pub(in crate::cli) struct Target<'a> {
    /// Which one.
    pub choice: &'a Choice,
    /// Samples a second to set it to.
    pub rate_hz: Option<f64>,
    /// Tell it that the pressure now is zero.
    pub zero: bool,
}

/// Connects to a live sensor; none if the user ended it before.
pub(in crate::cli) async fn connect(
    wanted: &Target<'_>,
    ending: &mut Ending,
    say: &(dyn Fn(&Told) + Sync),
) -> Result<Option<Box<dyn Source>>, Failure> {
    let protocols = wanted.choice.protocols()?;
    let mut scanner = Scanner::open(wanted.choice.adapter.as_deref()).await?;
    let (found, protocol) = tokio::select! {
        found = wanted.choice.find(&mut scanner, &protocols) => found?,
        () = ending.asked() => return Ok(None),
    };
    say(&Told::Note(format!("connecting to {}", found.label())));
    let left = found.clone();
    let connecting = async {
        let mut sensor = found.connect(scanner, Arc::new(protocol)).await?;
        for warning in sensor.facts().await.warnings {
            say(&Told::Warning(warning));
        }
        if let Some(hz) = wanted.rate_hz {
            sensor.set_rate(Rate::from_hz(hz))?;
        }
        if wanted.zero {
            sensor.zero().await?;
        }
        sensor.stream().await
    };
    let stream = tokio::select! {
        stream = connecting => Some(stream),
        () = ending.asked() => None,
    };
    match stream {
        Some(Ok(stream)) => Ok(Some(Box::new(stream))),
        Some(Err(error)) => {
            left.abandon().await;
            Err(error.into())
        }
        None => {
            left.abandon().await;
            Ok(None)
        }
    }
}
