//! `simulate`: a recipe to a recording and what was true.

use super::indicator::{self, Shown, Step};
use super::{Exit, Failure, Outcome, document, out};
use crate::report::temporary_in;
use crate::simulate::{Recipe, SimulateError, session_watched};
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

/// The reference sensor's protocol file, for recipes that name none.
pub(super) const REFERENCE: &str = include_str!("../../protocol/reference-sensor.toml");

/// Make a recording from a recipe: a simulated visit with known truth
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:
  needlerest simulate demo/heron.recipe.toml --out FOLDER
  needlerest replay FOLDER/heron.jsonl
  needlerest simulate demo/wren.recipe.toml --out FOLDER --page

Writes NAME.jsonl (the recording) and NAME.truth.json (what was true). The same recipe gives \
the same bytes on every machine.")]
pub(super) struct Args {
    /// The recipe (TOML); its job card and protocol file are looked for beside it
    recipe: PathBuf,
    /// Folder to write into; it is made if it does not exist
    #[arg(long, value_name = "FOLDER")]
    out: PathBuf,
    /// Also write NAME.html: plots of the pressure in the cylinder and at the sensor
    #[arg(long)]
    page: bool,
    /// Write over files that are there already
    #[arg(long)]
    replace: bool,
}

pub(super) fn run(args: &Args) -> Outcome {
    let recipe = read_recipe(&args.recipe)?;
    let beside = |name: &Option<String>| {
        name.as_ref()
            .map(|name| document::text(&args.recipe.with_file_name(name)))
            .transpose()
    };
    let card = beside(&recipe.card)?;
    let protocol = beside(&recipe.protocol)?;
    let mut shown = Vec::new();
    let ambient = recipe.surroundings.ambient_kpa * 1e3;
    let made = session_watched(
        &recipe,
        protocol.as_deref().unwrap_or(REFERENCE),
        card.as_deref(),
        |run, begins, moment| {
            if args.page {
                shown.resize_with(run + 1, Shown::default);
                shown[run].steps.push(Step::new(moment, ambient, begins));
            }
        },
    )
    .map_err(|error| failure(&args.recipe, &error))?;
    let truth = serde_json::to_string_pretty(&made.truth)
        .map_err(|error| Failure::new(Exit::Failed, error))?;
    let stem = stem(&args.recipe);
    let recording = args.out.join(format!("{stem}.jsonl"));
    let truths = args.out.join(format!("{stem}.truth.json"));
    fs::create_dir_all(&args.out).map_err(|error| Failure::file(&args.out, "make", &error))?;
    save(&recording, &made.recording, args.replace)?;
    save(&truths, format!("{truth}\n").as_bytes(), args.replace)?;
    let mut out = out::stdout();
    out.line(recording.display())?;
    out.line(truths.display())?;
    if args.page {
        let html = indicator::page(&recipe.about, &shown, &made.truth.runs, &made.samples);
        let page = args.out.join(format!("{stem}.html"));
        save(&page, html.as_bytes(), args.replace)?;
        out.line(page.display())?;
    }
    Ok(Exit::Done)
}

/// `heron` for `demo/heron.recipe.toml`.
fn stem(recipe: &Path) -> String {
    let name = recipe.file_name().unwrap_or_default().to_string_lossy();
    let name = name.strip_suffix(".toml").unwrap_or(&name);
    name.strip_suffix(".recipe").unwrap_or(name).to_owned()
}

pub(super) fn read_recipe(path: &Path) -> Result<Recipe, Failure> {
    Recipe::parse(&document::text(path)?).map_err(|error| failure(path, &error))
}

pub(super) fn failure(path: &Path, error: &SimulateError) -> Failure {
    Failure::new(Exit::BadInput, error)
        .at(path.display())
        .remedy("correct the recipe; demo/*.recipe.toml are examples that work")
}

/// Writes a file, whole or not at all; one that exists only when told to.
pub(super) fn save(path: &Path, bytes: &[u8], replace: bool) -> Result<(), Failure> {
    let failed = |error: &std::io::Error| Failure::file(path, "write", error);
    if path.exists() && !replace {
        return Err(
            Failure::new(Exit::Failed, "this file exists already and is not touched")
                .at(path.display())
                .remedy("give another folder, or --replace to write over it"),
        );
    }
    let folder = path.parent().filter(|folder| folder.is_dir());
    let mut file =
        temporary_in(folder.unwrap_or(Path::new("."))).map_err(|error| failed(&error))?;
    file.write_all(bytes).map_err(|error| failed(&error))?;
    file.persist(path).map_err(|error| failed(&error.error))?;
    Ok(())
}
