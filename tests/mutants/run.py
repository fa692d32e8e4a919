"""Which mutants the tests kill: a sample by a stated seed, all of it in one build.

    cargo install cargo-mutants --locked
    pip install tree_sitter tree_sitter_rust
    python tests/mutants/run.py --seed 2026 --each 75 --copy FOLDER

`cargo mutants --list` names the mutants. Of each room a sample is drawn and written into a copy of the
tree in FOLDER, to be switched on at run time (`switch.py`), so that the crate is compiled once and not
once a mutant. One that cannot be switched or does not compile gives its place to the next of the same
order. Every test is run once by itself, to learn how long it takes and which mutants it comes to; each
mutant is then asked for of the tests that come to it, the quickest first, until one fails.

Started again with the same FOLDER, it takes the tests (not the source) anew and asks for those that
survived.
"""

import argparse
import json
import os
import random
import resource
import shutil
import subprocess
import tempfile
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from switch import SWITCH, mutants_at, switched

ROOMS = ("signal", "assess", "protocol", "recording")
LIB = "needlerest"
# Numbers of a room's mutants begin here.
OF_A_ROOM = 10_000
QUICK_S = 0.5
WORKERS = 2
MEMORY = 4 << 30


def drawn(copy, seed, rooms):
    """All mutants by number, each room's in the order in which they are drawn."""
    mutants = {}
    for at, room in enumerate(ROOMS):
        if room not in rooms:
            continue
        listing = ["cargo", "mutants", "--list", "--json", "-f", f"src/{room}/**/*.rs"]
        made = subprocess.run(listing, cwd=copy, capture_output=True, check=True).stdout
        found = sorted(json.loads(made), key=lambda mutant: mutant["name"])
        print(room, len(found), Counter(mutant["genre"] for mutant in found))
        random.Random(f"{seed} {room}").shuffle(found)
        for place, mutant in enumerate(found):
            mutants[at * OF_A_ROOM + place] = mutant | {"room": room}
    return mutants


def compiling(copy, mutants, each):
    """Writes the first of each room that can be switched into the copy; gives these and the others."""
    placeless, refused = set(), set()
    while True:
        left = [number for number in mutants if number not in placeless | refused]
        taken = [n for room in ROOMS for n in [n for n in left if mutants[n]["room"] == room][:each]]
        missed = write(copy, {n: mutants[n] for n in taken})
        placeless |= missed
        if missed:
            continue
        wrong = errors(copy)
        if not wrong:
            drawn_up_to = {n for n in placeless | refused if any(n < t for t in taken)}
            return taken, sorted(placeless & drawn_up_to), sorted(refused & drawn_up_to)
        print("do not compile:", sorted(wrong), flush=True)
        refused |= wrong


def write(copy, taken):
    """The source as it is in this tree, with these mutants; gives those that found no place."""
    missed = set()
    for path in Path("src").rglob("*.rs"):
        source = path.read_bytes()
        here = {n: m for n, m in taken.items() if m["file"] == path.as_posix()}
        if here:
            source, without = switched(source, here)
            missed |= without
        if path.as_posix() == "src/lib.rs":
            source += SWITCH.encode()
        if (copy / path).read_bytes() != source:
            (copy / path).write_bytes(source)
    return missed


def cargo(copy, *words):
    run = subprocess.run(["cargo", *words, "--message-format=json"], cwd=copy, capture_output=True, text=True)
    return [json.loads(line) for line in run.stdout.splitlines() if line.startswith("{")]


def errors(copy):
    """Numbers of the mutants that the compiler refuses; what only follows from them is passed over."""
    wrong, without = set(), []
    for message in cargo(copy, "test", "--no-run", "--lib"):
        told = message.get("message", {})
        if message["reason"] != "compiler-message" or told["level"] != "error" or not told["spans"]:
            continue
        spans = sorted(told["spans"], key=lambda span: not span["is_primary"])
        found = [mutants_at((copy / s["file_name"]).read_bytes(), s["byte_start"]) for s in spans]
        cause = next((numbers for numbers in found if numbers), None)
        if cause is None:
            without.append(told["rendered"])
        else:
            wrong |= cause
    if without and not wrong:
        raise SystemExit(without[0])
    return wrong


def built(copy, rooms):
    """The tests inside the source and of these rooms: name and program."""
    messages = cargo(copy, "test", "--no-run", "--lib", *(w for room in rooms for w in ("--test", room)))
    tests = [m for m in messages if m.get("executable") and m["profile"]["test"]]
    programs = {m["target"]["name"]: m["executable"] for m in tests}
    return {name: programs[name] for name in (LIB, *rooms)}


def run(copy, program, tests, most_s, **surroundings):
    """Whether these tests pass; None when they come to no end."""
    running = subprocess.Popen(
        [program, "-q", "--exact", *tests],
        cwd=copy,
        env=dict(os.environ, CARGO_MANIFEST_DIR=str(copy), **surroundings),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY)),
    )
    try:
        return running.wait(most_s) == 0
    except subprocess.TimeoutExpired:
        os.killpg(running.pid, 9)
        running.wait()
        return None


def measured(copy, programs, longest_s):
    """Each test by itself: where it is, its name, seconds, the mutants that it comes to, and whether it
    can be asked: it passes without a mutant and does not take too long."""

    def measure(place):
        name, test = place
        with tempfile.TemporaryDirectory() as folder:
            log = Path(folder) / "reached"
            began = time.monotonic()
            passed = run(copy, programs[name], [test], longest_s, MUTANTS_REACHED=str(log))
            took = time.monotonic() - began
            reached = sorted({int(n) for n in log.read_text().split()}) if log.exists() else []
        return {"in": name, "test": test, "took_s": took, "reaches": reached, "passes": passed}

    places = []
    for name, program in programs.items():
        listing = subprocess.run([program, "--list", "--format", "terse"], cwd=copy, capture_output=True, text=True)
        tests = [line[: -len(": test")] for line in listing.stdout.splitlines() if line.endswith(": test")]
        places += [(name, test) for test in tests if name != LIB or test.split("::")[0] in ROOMS]
    with ThreadPoolExecutor(WORKERS) as pool:
        return list(pool.map(measure, places))


def batches(tests):
    """Quick ones of one program together, the others one by one, the quickest first."""
    quick = {}
    for test in tests:
        if test["took_s"] < QUICK_S:
            quick.setdefault(test["in"], []).append(test)
    yield from quick.values()
    yield from ([t] for t in sorted(tests, key=lambda t: t["took_s"]) if t["took_s"] >= QUICK_S)


def outcome(copy, programs, number, room, tests):
    """What becomes of a mutant: first by its own room's tests, then by those of the others."""
    reaching = [test for test in tests if test["passes"] and number in test["reaches"]]
    own = [t for t in reaching if t["in"] == room or t["in"] == LIB and t["test"].startswith(room + "::")]
    for whose, asked in (("own", own), ("others", [t for t in reaching if t not in own])):
        for batch in batches(asked):
            most_s = 30 + 20 * sum(test["took_s"] for test in batch)
            names = [test["test"] for test in batch]
            passed = run(copy, programs[batch[0]["in"]], names, most_s, MUTANT=str(number))
            if not passed:
                return {"killed": whose, "how": "no end" if passed is None else "fails", "by": names}
    slow = [t["test"] for t in tests if not t["passes"] and number in t["reaches"]]
    return {"killed": None, "reached": len(reaching), "not_asked": slow}


def table(chosen, results):
    print("| room | drawn | killed by its own tests | by those of other rooms | survived |")
    print("| --- | ---: | ---: | ---: | ---: |")
    for room in ROOMS:
        of_it = [results[n] for n, mutant in chosen.items() if mutant["room"] == room and n in results]
        if not of_it:
            continue
        count = Counter(result["killed"] for result in of_it)
        own = f"{count['own']} ({count['own'] / max(len(of_it), 1):.0%})"
        print(f"| `{room}` | {len(of_it)} | {own} | {count['others']} | {count[None]} |")


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--seed", type=int, required=True)
    arguments.add_argument("--each", type=int, required=True)
    arguments.add_argument("--copy", type=Path, required=True)
    arguments.add_argument("--longest", type=float, default=60, help="seconds; tests that take longer are not asked")
    arguments.add_argument("--others", nargs="*", default=[], help="rooms whose tests are asked as well")
    arguments.add_argument("--rooms", nargs="*", default=ROOMS, choices=ROOMS, help="whose mutants are drawn")
    given = arguments.parse_args()
    copy = given.copy.resolve()
    kept, told = copy / "mutants.json", copy / "outcomes.json"
    if not kept.exists():
        shutil.copytree(".", copy, ignore=shutil.ignore_patterns("target", ".git"), dirs_exist_ok=True)
        mutants = drawn(copy, given.seed, given.rooms)
        taken, placeless, refused = compiling(copy, mutants, given.each)
        print(f"cannot be switched: {len(placeless)}; do not compile: {len(refused)}")
        kept.write_text(json.dumps({n: mutants[n] for n in taken}, indent=1))
    shutil.copytree("tests", copy / "tests", dirs_exist_ok=True)
    chosen = {int(n): mutant for n, mutant in json.loads(kept.read_text()).items()}
    results = {int(n): r for n, r in json.loads(told.read_text()).items()} if told.exists() else {}
    programs = built(copy, (*given.rooms, *given.others))
    tests = measured(copy, programs, given.longest)
    (copy / "tests.json").write_text(json.dumps(tests, indent=1))
    for test in tests:
        if not test["passes"]:
            print("not asked:", test["in"], test["test"], "too long" if test["passes"] is None else "fails")

    def ask(number):
        return number, outcome(copy, programs, number, chosen[number]["room"], tests)

    open_ones = [number for number in chosen if not results.get(number, {}).get("killed")]
    # Of each room in turn, so that a run that is stopped is a sample of all of them.
    open_ones.sort(key=lambda number: number % OF_A_ROOM)
    with ThreadPoolExecutor(WORKERS) as pool:
        for number, result in pool.map(ask, open_ones):
            results[number] = result
            print(number, result["killed"] or "survived", chosen[number]["name"], sep="\t", flush=True)
            told.write_text(json.dumps(results, indent=1))
    table(chosen, results)


if __name__ == "__main__":
    main()
