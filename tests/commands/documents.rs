//! The documents against the program: commands, options, exit codes and files that they name are
//! there.

use crate::tool::{code, complaint, printed, run_in};
use needlerest::engine::cautions::{CAUTIONS, When};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::tempdir;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn documents() -> Vec<(PathBuf, String)> {
    let mut paths: Vec<PathBuf> = ["README.md", "DEVELOPERS.md", "CHANGELOG.md"]
        .map(|name| root().join(name))
        .into();
    for folder in ["protocol", "src/cli/guide"] {
        let entries = fs::read_dir(root().join(folder)).unwrap();
        paths.extend(entries.map(|entry| entry.unwrap().path()));
    }
    paths.retain(|path| path.extension().is_some_and(|extension| extension == "md"));
    paths.sort();
    let read = |path: PathBuf| (path.clone(), fs::read_to_string(path).unwrap());
    paths.into_iter().map(read).collect()
}

fn help(command: &[&str]) -> String {
    let arguments = [command, &["--help"]].concat();
    printed(&run_in(root(), &arguments))
}

/// What stands between back ticks or in a line of a code block, and begins with the program's
/// name.
fn commands_named(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    for line in text.lines() {
        let line = line.trim_start().trim_start_matches("$ ");
        let whole = line.strip_prefix("needlerest ").map(str::to_owned);
        let quoted = line.split('`').skip(1).step_by(2);
        let quoted = quoted.filter_map(|code| code.strip_prefix("needlerest "));
        found.extend(whole.into_iter().chain(quoted.map(str::to_owned)));
    }
    found
}

#[test]
fn commands_and_options_that_the_documents_name_are_there() {
    let overall = help(&[]);
    let known: BTreeSet<&str> = overall
        .lines()
        .filter_map(|line| line.strip_prefix("  "))
        .filter(|line| !line.starts_with(' '))
        .filter_map(|line| line.split_whitespace().next())
        .collect();
    let mut looked_at = 0;
    for (path, text) in documents() {
        for command in commands_named(&text) {
            let words: Vec<&str> = command.split_whitespace().collect();
            let Some(first) = words
                .first()
                .filter(|word| word.starts_with(char::is_alphabetic))
            else {
                continue;
            };
            // A command that is there only with the feature of its name; the first words of what
            // is signed.
            if ["parquet", "seal"].contains(first) {
                continue;
            }
            if !known.contains(first) {
                // A sentence, not a command, if it is not code.
                assert!(
                    !text.contains(&format!("`needlerest {first}")),
                    "{}: {first}",
                    path.display()
                );
                continue;
            }
            let below = words
                .get(1)
                .filter(|word| word.chars().all(|c| c.is_ascii_lowercase()));
            let said = help(&[first]);
            let deeper = below.map_or(String::new(), |below| help(&[first, below]));
            for option in words.iter().filter(|word| word.starts_with("--")) {
                let name = option.split('=').next().unwrap();
                assert!(
                    said.contains(name) || deeper.contains(name),
                    "{}: {command}: {name}",
                    path.display()
                );
            }
            looked_at += 1;
        }
    }
    assert!(looked_at > 40, "only {looked_at} commands were found");
}

#[test]
fn files_that_the_documents_point_to_are_there() {
    let mut looked_at = 0;
    for (path, text) in documents() {
        for link in text.split("](").skip(1) {
            let target = link.split([')', '#']).next().unwrap();
            if target.contains("://") || target.is_empty() {
                continue;
            }
            let file = target.split('#').next().unwrap();
            let target = path.parent().unwrap().join(file);
            assert!(target.exists(), "{}: {}", path.display(), target.display());
            looked_at += 1;
        }
    }
    assert!(looked_at > 5);
}

#[test]
fn exit_codes_are_told_alike_everywhere() {
    let flat = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let told = flat(&help(&[]));
    let (_, told) = told
        .split_once("Exit codes: ")
        .expect("help tells the exit codes");
    let (told, _) = told.split_once("130 interrupted").unwrap();
    for (path, text) in documents() {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if ["README.md", "trouble.md"].contains(&name.as_str())
            && !path.starts_with(root().join("protocol"))
        {
            let text = flat(&text).replace(';', ",");
            assert!(text.contains(&told.replace(';', ",")), "{name}: {told}");
        }
    }
}

#[test]
fn every_page_of_the_guide_is_printed() {
    let list = printed(&run_in(root(), &["guide"]));
    assert!(list.lines().count() >= 6);
    for line in list.lines() {
        let page = line.split_whitespace().nth(2).unwrap();
        let output = run_in(root(), &["guide", page]);
        assert_eq!(code(&output), 0, "{}", complaint(&output));
        assert!(printed(&output).len() > 1000, "{page}");
    }
}

#[test]
fn completions_and_manual_pages_know_every_command() {
    let folder = tempdir().unwrap();
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let text = printed(&run_in(folder.path(), &["completions", shell]));
        assert!(
            text.contains("practice") && text.contains("no-questions"),
            "{shell}"
        );
    }
    let output = run_in(folder.path(), &["manpages", "man"]);
    assert_eq!(code(&output), 0, "{}", complaint(&output));
    for page in [
        "needlerest.1",
        "needlerest-visit.1",
        "needlerest-protocol-check.1",
    ] {
        let text = fs::read_to_string(folder.path().join("man").join(page)).unwrap();
        assert!(text.contains(".TH"), "{page}");
    }
}

/// `text` in lines of a document, as an item of a list.
fn item(text: &str) -> String {
    let layout = textwrap::Options::new(100)
        .initial_indent("- ")
        .subsequent_indent("  ")
        .word_splitter(textwrap::WordSplitter::NoHyphenation)
        .break_words(false);
    textwrap::fill(text, layout)
}

/// Every caution with its engines and its source, as the guide has it.
fn whole_list() -> String {
    let items = CAUTIONS.iter().map(|caution| {
        let engines = caution.when.words();
        let engines = engines.map_or(String::new(), |engines| format!(" ({engines})"));
        item(&format!(
            "*{}*{engines}. {} [{}]",
            caution.about, caution.text, caution.source
        ))
    });
    items.collect::<Vec<_>>().join("\n")
}

/// What they are about, by the engines that they are for, as the README has it.
fn short_list() -> String {
    let mut groups: Vec<(When, Vec<&str>)> = Vec::new();
    for caution in &CAUTIONS {
        match groups.iter_mut().find(|(when, _)| *when == caution.when) {
            Some((_, abouts)) => abouts.push(caution.about),
            None => groups.push((caution.when, vec![caution.about])),
        }
    }
    let always = |group: &(When, Vec<&str>)| group.0 != When::Always;
    groups.sort_by_key(always);
    let items = groups.iter().map(|(when, abouts)| {
        let engines = when.words().unwrap_or("every engine");
        item(&format!("{engines}: {}", abouts.join("; ")))
    });
    items.collect::<Vec<_>>().join("\n")
}

/// The cautions in the documents are those of the program, word for word. Set `NEEDLEREST_UPDATE`
/// to write them anew.
#[test]
fn cautions_in_guide_and_readme_are_those_of_the_program() {
    for (name, heading, wanted) in [
        ("src/cli/guide/testing.md", "## Cautions", whole_list()),
        ("README.md", "## Before you crank", short_list()),
    ] {
        let path = root().join(name);
        let text = fs::read_to_string(&path).unwrap();
        let (before, section) = text.split_once(heading).expect(heading);
        let (section, after) = section.split_once("\n## ").expect("a section after it");
        let told = section.find("\n- ").map_or("", |at| &section[at..]).trim();
        if std::env::var_os("NEEDLEREST_UPDATE").is_some() {
            let lead = section[..section.find("\n- ").unwrap_or(section.len())].trim_end();
            let new = format!("{before}{heading}{lead}\n\n{wanted}\n\n## {after}");
            fs::write(&path, new).unwrap();
        } else {
            let remedy = "NEEDLEREST_UPDATE=1 cargo test --test commands cautions";
            assert!(told == wanted, "{name}: {remedy}");
        }
    }
}
