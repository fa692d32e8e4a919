//! A whole recording through the pipeline, line by line.

use super::analysis::Analysis;
use super::news::News;
use super::options::Options;
use super::soundness::Soundness;
use super::stream::{Pipeline, PipelineError};
use crate::recording::{OpenError, Reader};
use std::io::{self, BufRead};

/// Why a recording cannot be played.
#[derive(Debug, thiserror::Error)]
pub enum PlayError {
    /// It is no recording that can be read here.
    #[error(transparent)]
    Open(#[from] OpenError),
    /// What its header carries cannot be used.
    #[error(transparent)]
    Pipeline(#[from] PipelineError),
    /// Reading broke off.
    #[error("cannot read the recording: {0}")]
    Io(#[from] io::Error),
}

/// Plays a recording through the [`Pipeline`]. Damaged lines are left out and counted.
#[derive(Debug)]
pub struct Player<R> {
    reader: Reader<R>,
    pipeline: Pipeline,
    news: Vec<News>,
    soundness: Soundness,
}

/// What a line of the recording brought.
#[derive(Debug)]
pub struct Step<'a> {
    /// Host time of the line, in microseconds since recording began; that of the line before
    /// where it has none.
    pub t_us: u64,
    /// What the line brought.
    pub news: &'a [News],
}

impl<R: BufRead> Player<R> {
    /// Reads the header.
    ///
    /// # Errors
    /// The input is no recording, or its protocol file or job card cannot be used.
    pub fn open(input: R, options: Options) -> Result<Self, PlayError> {
        let reader = Reader::new(input)?;
        let pipeline = Pipeline::new(reader.header().clone(), options)?;
        Ok(Self {
            reader,
            pipeline,
            news: Vec::new(),
            soundness: Soundness::default(),
        })
    }

    /// Plays the next line; `None` at the end of the recording.
    ///
    /// # Errors
    /// Reading broke off.
    pub fn step(&mut self) -> Result<Option<Step<'_>>, PlayError> {
        self.news.clear();
        let Some(line) = self.reader.next().transpose()? else {
            return Ok(None);
        };
        match line.outcome {
            Ok(record) => self.pipeline.take(&record, &mut self.news),
            Err(damage) => self.soundness.damaged(line.number, line.count, &damage),
        }
        Ok(Some(Step {
            t_us: self.pipeline.last_us,
            news: &self.news,
        }))
    }

    /// Ends the last run: what the decoder held back is among the pipeline's samples then.
    pub fn end(&mut self) {
        self.news.clear();
        self.pipeline.end(&mut self.news);
    }

    /// Plays what is left and gives the findings.
    ///
    /// # Errors
    /// Reading broke off.
    pub fn finish(mut self) -> Result<Analysis, PlayError> {
        self.pipeline.unheard();
        while self.step()?.is_some() {}
        self.soundness.sealed(self.reader.seal());
        Ok(self.pipeline.finish(self.soundness))
    }

    /// The pipeline, as it stands.
    pub fn pipeline(&self) -> &Pipeline {
        &self.pipeline
    }
}

/// Analyses a whole recording.
///
/// # Errors
/// The input is no recording that can be read here, its protocol file or job card cannot be used,
/// or reading broke off.
pub fn analyse(input: impl BufRead, options: Options) -> Result<Analysis, PlayError> {
    Player::open(input, options)?.finish()
}
