"""Which mutants the tests kill: a sample by a stated seed, all of it in one build.

    cargo install cargo-mutants --locked
    python tests/mutants/run.py --seed 26 --each 26 --copy FOLDER

`cargo mutants --list` names the mutants. Of each room a sample is drawn from those that replace what a
function gives by a plain value; each becomes a branch at the function's beginning, asked for by a
variable of the environment, so that the crate is compiled once and not once a mutant. The tests of the
room are then run for each. The copy in FOLDER is changed, never this tree.
"""

import argparse
import json
import os
import random
import re
import shutil
import subprocess
from pathlib import Path

ROOMS = ("signal", "assess", "protocol", "recording")
# Values that need no type to be known; others may not compile, and one that does not spoils the build.
NUMBER = r"-?[01](\.0)?"
PLAIN = re.compile(
    rf"(true|false|{NUMBER}|None|\(\)|\"\"|\"xyzzy\"|String::new\(\)|\"xyzzy\"\.into\(\)|vec!\[\]"
    rf"|Some\((true|false|{NUMBER}|String::new\(\)|\"xyzzy\"\.into\(\)|\({NUMBER}, {NUMBER}\))\)"
    rf"|Ok\((\(\)|true|false|{NUMBER})\)|\({NUMBER}, {NUMBER}\))"
)
SWITCH = """
/// Whether this mutant is on.
#[doc(hidden)]
pub fn mutated(number: u32) -> bool {
    static ON: std::sync::OnceLock<u32> = std::sync::OnceLock::new();
    *ON.get_or_init(|| std::env::var("MUTANT").ok().and_then(|n| n.parse().ok()).unwrap_or(0)) == number
}
"""


def candidates(copy, room):
    """Mutants of a room that replace a function's value, and can be switched on at run time."""
    listing = ["cargo", "mutants", "--list", "--json", "-f", f"src/{room}/**/*.rs"]
    found = json.loads(subprocess.run(listing, cwd=copy, capture_output=True, check=True).stdout)
    for mutant in sorted(found, key=lambda mutant: mutant["name"]):
        if mutant["genre"] != "FnValue" or not PLAIN.fullmatch(mutant["replacement"]):
            continue
        lines = (copy / mutant["file"]).read_text().split("\n")
        first = mutant["function"]["span"]["start"]["line"] - 1
        head = "\n".join(lines[first : mutant["span"]["start"]["line"]])
        if "const fn" not in head and "impl Iterator" not in head:
            yield mutant


def switch_in(copy, mutants):
    """Writes each mutant as a branch at the beginning of its function."""
    places = sorted(
        ((m["file"], m["span"]["start"]["line"], m["span"]["start"]["column"], n, m["replacement"])
         for n, _, m in mutants),
        reverse=True,
    )
    for file, line, column, number, value in places:
        path = copy / file
        lines = path.read_text().split("\n")
        text = lines[line - 1]
        branch = f"if crate::mutated({number}) {{ return {value}; }} "
        lines[line - 1] = text[: column - 1] + branch + text[column - 1 :]
        path.write_text("\n".join(lines))
    with open(copy / "src/lib.rs", "a", encoding="utf-8") as file:
        file.write(SWITCH)


def binaries(copy):
    """The tests of each room, built."""
    build = ["cargo", "test", "--no-run", "--message-format=json"]
    build += [word for room in ROOMS for word in ("--test", room)]
    made = subprocess.run(build, cwd=copy, capture_output=True, text=True, check=True).stdout
    messages = [json.loads(line) for line in made.splitlines() if line.startswith("{")]
    return {
        message["target"]["name"]: message["executable"]
        for message in messages
        if message.get("executable") and message["target"]["name"] in ROOMS
    }


def outcome(binary, copy, number):
    surroundings = dict(os.environ, MUTANT=str(number), CARGO_MANIFEST_DIR=str(copy))
    try:
        run = subprocess.run([binary, "-q"], cwd=copy, env=surroundings, capture_output=True, timeout=600)
    except subprocess.TimeoutExpired:
        return "killed (no end)"
    return "killed" if run.returncode else "survived"


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--seed", type=int, required=True)
    arguments.add_argument("--each", type=int, required=True)
    arguments.add_argument("--copy", type=Path, required=True)
    given = arguments.parse_args()
    copy = given.copy.resolve()
    shutil.copytree(".", copy, ignore=shutil.ignore_patterns("target", ".git"))
    mutants = []
    for room in ROOMS:
        all_of_it = list(candidates(copy, room))
        drawn = random.Random(given.seed).sample(all_of_it, min(given.each, len(all_of_it)))
        mutants += [(len(mutants) + n, room, mutant) for n, mutant in enumerate(drawn, 1)]
    switch_in(copy, mutants)
    built = binaries(copy)
    for room in ROOMS:
        assert outcome(built[room], copy, 0) == "survived", f"{room} fails without a mutant"
    for number, room, mutant in mutants:
        print(room, outcome(built[room], copy, number), mutant["name"], sep="\t", flush=True)


if __name__ == "__main__":
    main()
