//! The user's settings: an option comes before them, they come before the card; mistakes are
//! told by file, line and field, and keep nobody from help.

use crate::tool::{code, complaint, printed, put, run_at_home};
use std::fs;
use std::path::Path;
use tempfile::tempdir;

const OTTER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo/otter.jsonl");

fn file(home: &Path) -> std::path::PathBuf {
    home.join("needlerest").join("settings.toml")
}

fn written(home: &Path, text: &str) {
    fs::create_dir_all(home.join("needlerest")).unwrap();
    put(&home.join("needlerest"), "settings.toml", text.as_bytes());
}

#[test]
fn option_before_setting_before_card() {
    let home = tempdir().unwrap();
    let shows = |more: &[&str], unit: &str| {
        let arguments = [&["replay", OTTER], more].concat();
        let output = run_at_home(home.path(), &arguments);
        assert_eq!(code(&output), 0, "{}", complaint(&output));
        let text = printed(&output);
        let reads = text.contains(&format!("cold ({unit})"));
        assert!(reads, "{unit}: {text}");
    };
    shows(&[], "psi");
    let set = run_at_home(home.path(), &["settings", "set", "unit", "kPa"]);
    assert_eq!(code(&set), 0, "{}", complaint(&set));
    shows(&[], "kPa");
    shows(&["--unit", "bar"], "bar");
    let help = printed(&run_at_home(home.path(), &["replay", "--help"]));
    assert!(help.contains("[default: kPa]"), "{help}");
    let forgotten = run_at_home(home.path(), &["settings", "forget", "unit"]);
    assert_eq!(code(&forgotten), 0);
    shows(&[], "psi");
}

#[test]
fn mistakes_name_file_line_and_field() {
    let home = tempdir().unwrap();
    for (text, place) in [
        (
            "# mine\nunit = \"furlong\"\n",
            "settings.toml, line 2, unit",
        ),
        ("sensr = \"x\"\n", "settings.toml, line 1"),
        ("unit = [1]\n", "settings.toml, line 1, unit"),
        ("unit = \"bar\n", "settings.toml, line 1"),
    ] {
        written(home.path(), text);
        for arguments in [&["replay", OTTER][..], &["settings"]] {
            let output = run_at_home(home.path(), arguments);
            assert_eq!(code(&output), 4, "{text}");
            crate::tool::assert_complete(&output, place);
        }
        // Help, and what takes no defaults, work all the same.
        for arguments in [
            &["--help"][..],
            &["replay", "--help"],
            &["cautions"],
            &["guide"],
        ] {
            let output = run_at_home(home.path(), arguments);
            assert_eq!(code(&output), 0, "{arguments:?}: {}", complaint(&output));
        }
        // Nor is the file touched by a command that would change it.
        let set = run_at_home(home.path(), &["settings", "set", "also", "bar"]);
        assert_eq!(code(&set), 4);
        assert_eq!(fs::read_to_string(file(home.path())).unwrap(), text);
    }
}

#[test]
fn what_makes_no_sense_is_not_set() {
    let home = tempdir().unwrap();
    for (name, value) in [("unit", "furlong"), ("colour", "red"), ("sensor", " ")] {
        let output = run_at_home(home.path(), &["settings", "set", name, value]);
        assert_eq!(code(&output), 2, "{name}");
        assert!(!file(home.path()).exists());
    }
}

#[test]
fn comments_of_the_user_stay() {
    let home = tempdir().unwrap();
    written(home.path(), "# my own note\nannounce = 'say hello'\n");
    let output = run_at_home(home.path(), &["settings", "set", "sensor", "shed"]);
    assert_eq!(code(&output), 0, "{}", complaint(&output));
    let text = fs::read_to_string(file(home.path())).unwrap();
    assert_eq!(
        text,
        "# my own note\nannounce = 'say hello'\nsensor = \"shed\"\n"
    );
    let shown = printed(&run_at_home(home.path(), &["settings"]));
    assert!(
        shown.contains("say hello") && shown.contains("shed"),
        "{shown}"
    );
}
