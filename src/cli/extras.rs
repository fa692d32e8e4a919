//! `completions` and `manpages`: what a shell and `man` want to have, made from the same
//! description of the command line as `--help`.

use super::{Exit, Failure, Outcome, out};
use clap::Command;
use clap_complete::Shell;
use std::fs;
use std::io::Write;
use std::path::PathBuf;

/// Print the completions for a shell: it then finishes commands and options at the Tab key
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:
  needlerest completions bash > ~/.local/share/bash-completion/completions/needlerest
  needlerest completions fish > ~/.config/fish/completions/needlerest.fish
  needlerest completions zsh > _needlerest      in a folder of your $fpath
  needlerest completions powershell >> $PROFILE")]
pub(super) struct CompletionArgs {
    /// The shell
    shell: Shell,
}

/// Write the manual pages, one a command, for `man`
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:
  needlerest manpages ~/.local/share/man/man1
  man needlerest-visit")]
pub(super) struct ManpageArgs {
    /// The folder; made if it is not there. Older pages of needlerest in it are replaced
    folder: PathBuf,
}

pub(super) fn completions(args: &CompletionArgs, mut line: Command) -> Outcome {
    let mut text = Vec::new();
    clap_complete::generate(args.shell, &mut line, "needlerest", &mut text);
    out::stdout().write_all(&text)?;
    Ok(Exit::Done)
}

pub(super) fn manpages(args: &ManpageArgs, line: Command) -> Outcome {
    let failed = |error: std::io::Error| Failure::file(&args.folder, "write into", &error);
    fs::create_dir_all(&args.folder).map_err(failed)?;
    clap_mangen::generate_to(line, &args.folder).map_err(failed)?;
    out::stdout().line(format!(
        "Manual pages written into {}.",
        args.folder.display()
    ))?;
    Ok(Exit::Done)
}
