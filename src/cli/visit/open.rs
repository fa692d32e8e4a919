//! What a visit begins with: the recording (new, or one that goes on), the analysis, the session.

use crate::cli::live::desk::{Desk, Keeper};
use crate::cli::{Exit, Failure, live};
use crate::engine::{Ambient, Condition, EngineKind, JobCard, Rating};
use crate::leakdown::{AirTest, Restrictor};
use crate::pipeline::{Options, Pipeline, PipelineError, Run, Soundness};
use crate::protocol::Reference;
use crate::recording::{
    self, BackgroundSink, Event, Header, Record, TimedEvent, WriteError, Writer,
};
use crate::session::{AirEngine, AirSetup, KeptRun, Session, Setup};
use crate::transport::Origin;
use crate::units::{Pressure, PressureUnit};
use std::path::Path;

/// What the user chose.
#[derive(Clone, Debug)]
pub(super) struct Wanted<'a> {
    /// The recording; none for a replay.
    pub(super) file: Option<&'a Path>,
    /// The job card, verbatim.
    pub(super) card: Option<String>,
    /// Go on with the recording.
    pub(super) resume: bool,
    /// The engine is warm: the first round is.
    pub(super) warm: bool,
    pub(super) cautions_read: bool,
    pub(super) unit: Option<PressureUnit>,
    /// The restrictor for leak-down tests.
    pub(super) restrictor: Option<Restrictor>,
    /// The tester's tightness is measured first.
    pub(super) check_tester: bool,
}

/// Puts the desk together for packets from this origin.
pub(super) fn desk(wanted: &Wanted<'_>, origin: Origin) -> Result<Desk<Session>, Failure> {
    match (wanted.file, wanted.resume) {
        (Some(path), true) => resumed(wanted, path, &origin),
        (file, _) => begun(wanted, file, origin),
    }
}

/// The unit of a visit: as asked for, else as the card says.
pub(in crate::cli) fn unit(asked: Option<PressureUnit>, card: Option<&JobCard>) -> PressureUnit {
    asked.unwrap_or_else(|| card.map_or_else(PressureUnit::default, |card| card.display.unit))
}

/// Nobody is asked to crank with a sensor that is known to be too weak, nor to pour too much oil.
fn may_be_cranked(
    wanted: &Wanted<'_>,
    header: &Header,
    pipeline: &Pipeline,
) -> Result<(), Failure> {
    let card = pipeline.card();
    let unit = unit(wanted.unit, card);
    live::rated(card, pipeline.protocol(), unit)?;
    if let Some(text) = &header.card {
        JobCard::for_cranking(text).map_err(|error| {
            Failure::new(Exit::BadInput, error)
                .at("the recording's job card")
                .remedy("begin a new recording, with a card that is put right")
        })?;
    }
    Ok(())
}

fn begun(
    wanted: &Wanted<'_>,
    file: Option<&Path>,
    origin: Origin,
) -> Result<Desk<Session>, Failure> {
    let header = live::header(origin, wanted.card.clone());
    let pipeline = Pipeline::new(header.clone(), Options::default()).map_err(unusable)?;
    let session = Session::new(setup(wanted, &pipeline, file.is_none(), Vec::new()));
    let Some(path) = file else {
        return Ok(Desk::played(session, pipeline, Keeper::nowhere()));
    };
    may_be_cranked(wanted, &header, &pipeline)?;
    let writer = Writer::create(path, &header).and_then(Writer::into_background);
    let keeper = Keeper::file(writer.map_err(|error| written(path, &error))?);
    Ok(Desk::live(session, pipeline, keeper))
}

/// Reads what was recorded, then goes on behind it.
fn resumed(wanted: &Wanted<'_>, path: &Path, origin: &Origin) -> Result<Desk<Session>, Failure> {
    let allowed = |header: &Header, pipeline: &Pipeline| may_be_cranked(wanted, header, pipeline);
    let (pipeline, writer, last_us) = behind_if(path, origin, &allowed)?;
    let kept = pipeline.runs().iter().map(kept).collect();
    let session = Session::new(setup(wanted, &pipeline, false, kept));
    let findings = pipeline.findings(Soundness::default());
    let session = session.taken_up(&findings.assessment, aired(pipeline.air_tests()));
    let desk = Desk::live(session, pipeline, Keeper::file(writer));
    Ok(desk.behind(last_us))
}

/// A recording that goes on: its analysis so far, its writer, and how long it is in microseconds.
pub(in crate::cli) type Behind = (Pipeline, Writer<BackgroundSink>, u64);

/// Reads a recording and opens it to go on behind it; nothing is cranked.
pub(in crate::cli) fn behind(path: &Path, origin: &Origin) -> Result<Behind, Failure> {
    behind_if(path, origin, &|_, _| Ok(()))
}

fn behind_if(
    path: &Path,
    origin: &Origin,
    allowed: &dyn Fn(&Header, &Pipeline) -> Result<(), Failure>,
) -> Result<Behind, Failure> {
    let unreadable = |error: &dyn std::fmt::Display| {
        Failure::new(Exit::BadInput, error.to_string()).at(path.display())
    };
    let mut reader = recording::open(path).map_err(|error| unreadable(&error))?;
    let header = reader.header().clone();
    if header.protocol != origin.protocol {
        return Err(Failure::new(
            Exit::Mismatch,
            "the sensor is described by another protocol file than the one in the recording",
        )
        .at(path.display())
        .remedy("carry on with the same kind of sensor, or begin a new recording"));
    }
    let mut pipeline = Pipeline::new(header.clone(), Options::default()).map_err(unusable)?;
    allowed(&header, &pipeline)?;
    let mut news = Vec::new();
    for line in reader.by_ref() {
        let line = line.map_err(|error| unreadable(&error))?;
        if let Ok(record) = line.outcome {
            pipeline.take(&record, &mut news);
        }
        news.clear();
    }
    drop(reader);
    let at = jiff::Timestamp::now()
        .strftime("%Y-%m-%dT%H:%M:%SZ")
        .to_string();
    let (writer, last_us) = Writer::resume(path, &at)
        .and_then(|(writer, last_us)| Ok((writer.into_background()?, last_us)))
        .map_err(|error| written(path, &error))?;
    let event = TimedEvent {
        t_us: last_us,
        event: Event::Resumed { at },
    };
    pipeline.take(&Record::Event(event), &mut news);
    Ok((pipeline, writer, last_us))
}

/// Cylinders that were tested with air and held something.
fn aired(tests: &[AirTest]) -> Vec<String> {
    let tested = tests.iter().filter_map(|test| match test {
        AirTest::LeakDown { cylinder, .. } => test.at_top().map(|_| cylinder.clone()),
        AirTest::Decay { .. } => None,
    });
    tested.collect()
}

fn kept(run: &Run) -> KeptRun {
    KeptRun {
        cylinder: run.cylinder.clone(),
        named: !run.cylinder.starts_with(crate::session::UNNAMED),
        condition: run.condition,
        void: run.void,
        result: run.result.clone(),
    }
}

fn setup(wanted: &Wanted<'_>, pipeline: &Pipeline, replay: bool, kept: Vec<KeptRun>) -> Setup {
    let card = pipeline.card();
    let zero_expected = match pipeline.protocol().reference() {
        Reference::Gauge => Pressure::ZERO,
        Reference::Absolute => Ambient::of(card.and_then(|card| card.site.as_ref())).absolute,
    };
    Setup {
        kind: EngineKind::of(card),
        rating: Rating::of(card, pipeline.protocol().gauge_top()),
        cylinders: card.map_or_else(Vec::new, |card| {
            card.cylinders.iter().map(|c| c.name.clone()).collect()
        }),
        first: if wanted.warm {
            Condition::WarmDry
        } else {
            Condition::ColdDry
        },
        unit: unit(wanted.unit, card),
        zero_expected,
        cautions_read: wanted.cautions_read || replay,
        air: AirSetup {
            restrictor: live::air::restrictor(wanted.restrictor, card),
            tester_cm3: live::air::tester_cm3(card),
            check_tester: wanted.check_tester,
            engine: AirEngine::of(card),
        },
        replay,
        kept,
    }
}

fn unusable(error: PipelineError) -> Failure {
    Failure::new(Exit::BadInput, error).remedy("correct the file that is named")
}

fn written(path: &Path, error: &WriteError) -> Failure {
    let failure = Failure::new(Exit::Failed, error).at(path.display());
    match error {
        WriteError::Exists => failure.remedy("choose another name, or resume it: --resume"),
        WriteError::Io(_) => failure.remedy("see that the disk has room and may be written"),
        _ => failure,
    }
}
