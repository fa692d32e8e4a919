//! `protocol conform`: whether a live sensor keeps what its protocol file promises, a line each.

use super::super::live::choice::{Choice, seconds};
use super::super::live::runtime;
use super::super::{Exit, Failure, Outcome, out};
use super::judge::{self, Heard, Verdict};
use crate::protocol::{Command, ProtocolFile};
use crate::transport::TransportError;
use crate::transport::ble::{Ear, Scanner, Sensor, hide_known_race};
use crate::units::Rate;
use anstyle::{AnsiColor, Style};
use std::sync::Arc;
use std::time::Duration;

/// Try whether a live sensor keeps what its protocol file promises: rate, clock, packet numbers,
/// commands
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Leave the sensor open to the air, on no engine: it is told to take the pressure now as zero.

Examples:
  needlerest protocol conform
  needlerest protocol conform --sensor shed --for 30"
)]
pub(super) struct Args {
    #[command(flatten)]
    choice: Choice,
    /// How long to listen at the usual rate
    #[arg(long = "for", value_name = "SECONDS", value_parser = seconds, default_value = "10")]
    length: Duration,
}

/// How long the first notification may take.
const FIRST: Duration = Duration::from_secs(2);
/// What is under way when a command is acknowledged comes within this time.
const UNDER_WAY: Duration = Duration::from_millis(500);
/// How long nothing may come after a stop.
const QUIET: Duration = Duration::from_secs(1);
/// How long another rate is listened to, at least, and for how many packets.
const AT_RATE: (Duration, f64) = (Duration::from_secs(2), 4.0);

pub(super) fn run(args: &Args) -> Outcome {
    hide_known_race();
    runtime::run(conform(args))
}

async fn conform(args: &Args) -> Outcome {
    let protocols = args.choice.protocols()?;
    let mut scanner = Scanner::open(args.choice.adapter.as_deref()).await?;
    let (found, protocol) = args.choice.find(&mut scanner, &protocols).await?;
    let (sensor, by) = (found.label(), protocol.name());
    out::stdout().line(format!("{sensor} by \"{by}\"; leave it open to the air."))?;
    out::stdout().line("")?;
    let protocol = Arc::new(protocol);
    let mut sensor = found.connect(scanner, Arc::clone(&protocol)).await?;
    let facts = sensor.facts().await;
    let mut bench = Bench {
        protocol: &protocol,
        failed: 0,
    };
    bench.say(&judge::services(&facts.warnings))?;
    let tried = bench.go_through(&sensor, args.length).await;
    let let_go = sensor.let_go().await;
    tried?;
    let_go?;
    let mut said = out::stdout();
    said.line("")?;
    if bench.failed > 0 {
        said.line(format!("{} of these it does not keep.", bench.failed))?;
        return Ok(Exit::Mismatch);
    }
    said.line("It keeps what its protocol file promises.")?;
    Ok(Exit::Done)
}

struct Bench<'a> {
    protocol: &'a ProtocolFile,
    failed: usize,
}

impl Bench<'_> {
    fn say(&mut self, verdict: &Verdict) -> Result<(), Failure> {
        let (word, colour) = match verdict.passed {
            Some(true) => ("pass", AnsiColor::Green),
            Some(false) => ("fail", AnsiColor::Red),
            None => ("-", AnsiColor::Yellow),
        };
        self.failed += usize::from(verdict.passed == Some(false));
        let style = Style::new().fg_color(Some(colour.into()));
        let mut said = out::stdout();
        said.styled(style, &format!("{word:<4}"))?;
        said.line(format!("  {:<16} {}", verdict.what, verdict.found))?;
        Ok(())
    }

    fn has(&self, command: Command) -> bool {
        self.protocol.encode(command).is_ok()
    }

    async fn go_through(&mut self, sensor: &Sensor, length: Duration) -> Result<(), Failure> {
        let mut ear = sensor.ear().await?;
        self.starts(sensor, &mut ear).await?;
        let heard = Heard::new(self.protocol, ear.hear(length).await);
        for verdict in judge::stream(self.protocol, &heard) {
            self.say(&verdict)?;
        }
        self.zero(sensor, &mut ear).await?;
        self.rates(sensor, &mut ear).await?;
        self.stops(sensor, &mut ear).await
    }

    async fn starts(&mut self, sensor: &Sensor, ear: &mut Ear) -> Result<(), Failure> {
        if self.has(Command::Start) {
            let before = ear.hear(UNDER_WAY).await.len();
            self.say(&judge::silent_before_start(before))?;
            sensor.command(Command::Start).await?;
        }
        let heard = ear.hear(FIRST).await;
        self.say(&judge::started(heard.len(), FIRST))
    }

    async fn zero(&mut self, sensor: &Sensor, ear: &mut Ear) -> Result<(), Failure> {
        if !self.has(Command::Zero) {
            return self.say(&Verdict::not_promised("zero"));
        }
        if let Err(error) = self.told(sensor, ear, Command::Zero).await {
            return self.say(&Verdict::refused("zero", &error));
        }
        let heard = Heard::new(self.protocol, ear.hear(QUIET).await);
        self.say(&judge::zero(self.protocol, &heard))
    }

    async fn rates(&mut self, sensor: &Sensor, ear: &mut Ear) -> Result<(), Failure> {
        let Some((lowest, highest)) = self.protocol.settable_rates() else {
            return self.say(&Verdict::not_promised("set rate"));
        };
        let usual = self.protocol.rate().unwrap_or(highest);
        for rate in [highest, lowest, usual] {
            let what = format!("rate {}", rate.hz());
            if let Err(error) = self.told(sensor, ear, Command::SetRate(rate)).await {
                self.say(&Verdict::refused(&what, &error))?;
                continue;
            }
            let heard = Heard::new(self.protocol, ear.hear(self.long_enough(rate)).await);
            self.say(&judge::rate(&what, rate, &heard))?;
        }
        Ok(())
    }

    /// Some packets at this rate.
    fn long_enough(&self, rate: Rate) -> Duration {
        let per_packet = self.protocol.most_samples() as f64;
        let packets = Duration::from_secs_f64((AT_RATE.1 * per_packet / rate.hz()).min(60.0));
        packets.max(AT_RATE.0)
    }

    async fn stops(&mut self, sensor: &Sensor, ear: &mut Ear) -> Result<(), Failure> {
        if !self.has(Command::Stop) {
            return self.say(&Verdict::not_promised("stop"));
        }
        if let Err(error) = self.told(sensor, ear, Command::Stop).await {
            return self.say(&Verdict::refused("stop", &error));
        }
        let after = ear.hear(QUIET).await.len();
        self.say(&judge::stopped(after, QUIET))
    }

    /// Commands, and lets pass what was under way.
    async fn told(
        &self,
        sensor: &Sensor,
        ear: &mut Ear,
        command: Command,
    ) -> Result<(), TransportError> {
        sensor.command(command).await?;
        ear.hear(UNDER_WAY).await;
        Ok(())
    }
}
