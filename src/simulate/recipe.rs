//! A recipe: a whole visit to one engine, run after run, written as TOML.

use super::SimulateError;
use super::air_plan::PlannedAirTest;
use super::airline::AirSupply;
use super::random::Draws;
use super::spec::{
    Engine, Gas, Oil, Program, Radio, RunSpec, Sensor, Surroundings, Tester, Turning, one, step,
};
use crate::engine::Condition;
use serde::{Deserialize, Serialize};

/// Draws of tests with air are apart from those of runs.
const AIR_STREAM: u64 = 1000;

/// First line of a recipe.
pub const FORMAT: &str = "needlerest-recipe";

/// A whole visit to one engine.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Recipe {
    /// Always `needlerest-recipe`.
    pub format: String,
    /// Version of the recipe's format; 1.
    pub version: u32,
    /// What it is about, in words.
    pub about: String,
    /// Seed of all that is random.
    pub seed: u64,
    /// When recording begins (UTC, RFC 3339).
    pub started: String,
    /// File name of the job card, beside the recipe.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub card: Option<String>,
    /// File name of the sensor's protocol file, beside the recipe; otherwise it is the
    /// reference sensor.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub protocol: Option<String>,
    /// The sensor's advertised name.
    #[serde(default = "sensor_name")]
    pub sensor_name: String,
    /// Time step of the integration.
    #[serde(default = "step")]
    pub step_ms: f64,
    /// The surroundings.
    pub surroundings: Surroundings,
    /// Who or what turns the crank.
    pub turning: Turning,
    /// The tester.
    pub tester: Tester,
    /// The sensor.
    pub sensor: Sensor,
    /// The radio; its outages are in seconds since recording began.
    pub radio: Radio,
    /// What is done in each run.
    pub program: Program,
    /// The engine.
    pub engine: Engine,
    /// The air line of a test with air.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub air: Option<AirSupply>,
    /// The runs in order.
    #[serde(rename = "run")]
    pub runs: Vec<PlannedRun>,
    /// Tests with air, in order.
    #[serde(default, rename = "air_test", skip_serializing_if = "Vec::is_empty")]
    pub air_tests: Vec<PlannedAirTest>,
}

/// One run of a recipe; what it does not say is as in the rest of the recipe.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedRun {
    /// Name of the cylinder.
    pub cylinder: String,
    /// The engine's condition.
    pub condition: Condition,
    /// Temperature of the cylinder's walls.
    pub wall_celsius: f64,
    /// Oil, for a wet run.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub oil: Option<Oil>,
    /// How far the throttle is open, 0 to 1.
    #[serde(default = "one")]
    pub throttle: f64,
    /// Compression strokes to crank for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strokes: Option<u32>,
    /// Someone or something else turns the crank.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turning: Option<Turning>,
    /// The user takes the run back, and why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub void: Option<String>,
    /// The user's note, made before the run.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

fn sensor_name() -> String {
    "Simulated sensor".to_owned()
}

impl Recipe {
    /// Reads and checks a recipe.
    ///
    /// # Errors
    /// When it is not TOML, lacks a field or has one that is not known, or describes something
    /// impossible; the error names the field.
    pub fn parse(text: &str) -> Result<Self, SimulateError> {
        let recipe: Self =
            toml::from_str(text).map_err(|error| SimulateError::Recipe(error.to_string()))?;
        recipe.check()?;
        Ok(recipe)
    }

    fn check(&self) -> Result<(), SimulateError> {
        if self.format != FORMAT || self.version != 1 {
            return Err(SimulateError::impossible(
                "format",
                format!(
                    "\"{}\" version {} is not \"{FORMAT}\" version 1",
                    self.format, self.version
                ),
            ));
        }
        if self.runs.is_empty() {
            return Err(SimulateError::impossible("run", "there is no run"));
        }
        for (i, run) in self.run_specs().iter().enumerate() {
            super::check::run(run).map_err(|error| match error {
                SimulateError::Impossible { field, why } => SimulateError::Impossible {
                    field,
                    why: format!("{why} (run {})", i + 1),
                },
                other => other,
            })?;
        }
        for (i, test) in self.air_tests.iter().enumerate() {
            test.check(self.runs.len(), &self.engine)?;
            super::with_air::check(&self.air_supply(test))?;
            super::check::run(&self.air_spec(test, i))?;
        }
        Ok(())
    }

    /// The runs, each complete by itself.
    pub fn run_specs(&self) -> Vec<RunSpec> {
        (0..self.runs.len())
            .filter_map(|i| self.run_spec(i))
            .collect()
    }

    /// One run, complete by itself; `None` if there are not so many.
    pub fn run_spec(&self, index: usize) -> Option<RunSpec> {
        let run = self.runs.get(index)?;
        Some(self.complete(run, index as u64))
    }

    /// A test with air, complete by itself; nobody cranks in it.
    pub(super) fn air_spec(&self, test: &PlannedAirTest, number: usize) -> RunSpec {
        let run = PlannedRun {
            cylinder: test.cylinder.clone(),
            condition: test.condition,
            wall_celsius: test.wall_celsius,
            oil: None,
            throttle: 1.0,
            strokes: None,
            turning: None,
            void: None,
            note: None,
        };
        self.complete(&run, AIR_STREAM + number as u64)
    }

    /// The air line: the recipe's, or a usual one.
    pub(super) fn air_supply(&self, test: &PlannedAirTest) -> AirSupply {
        self.air
            .unwrap_or_else(|| AirSupply::usual(test.restrictor()))
    }

    /// A run with all that the rest of the recipe says; what is random comes from this stream.
    fn complete(&self, run: &PlannedRun, stream: u64) -> RunSpec {
        let mut draws = Draws::new(self.seed, stream);
        let mut program = self.program;
        program.strokes = run.strokes.unwrap_or(program.strokes);
        RunSpec {
            engine: self.engine.clone(),
            cylinder: run.cylinder.clone(),
            condition: run.condition,
            wall_celsius: run.wall_celsius,
            oil: run.oil,
            surroundings: self.surroundings,
            throttle: run.throttle,
            plugs_in: false,
            turning: run.turning.unwrap_or(self.turning),
            // Where the engine happened to stop; a sound one stops before compression.
            starts_at_deg: draws.between(0.0, 720.0),
            tester: self.tester,
            sensor: self.sensor,
            radio: self.radio.clone(),
            program,
            seed: draws.seed(),
            step_ms: self.step_ms,
            heat_factor: 1.0,
            gas: Gas::Air,
        }
    }
}
