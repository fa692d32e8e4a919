#!/usr/bin/env python3
"""Puts what the machines gave beside each other, as the page tests/results/targets.md shows it:

    table.py NAME=hashes.json... [NAME=findings.txt]

The first machine is the measure. `hashes.json` is what walk.py keeps; a `.txt` holds a line a
recording, its name and the SHA-256 of its findings (machines that run the core only). Ends with 1
if anything differs.
"""

import hashlib
import json
import pathlib
import sys

KINDS = {"html": "page", "svg": "SVG", "png": "PNG", "csv": "CSV", "json": "JSON", "jsonl": "recording"}
ORDER = ["findings", "page", "SVG", "PNG", "CSV", "JSON", "recording", "other files", "exit codes", "messages"]


def things(path):
    """What a machine gave, each thing by the command it came from and its kind."""
    if path.suffix == ".txt":
        rows = dict(line.split() for line in path.read_text().splitlines())
        return {(f"{name}: findings and report", "findings", ""): sha for name, sha in rows.items()}
    given = {}
    for name, row in json.loads(path.read_text()).items():
        given[name, "exit codes", ""] = str(row["code"])
        given[name, "findings" if name.endswith(": findings and report") else "messages", ""] = row["stdout"]
        given[name, "messages", "stderr"] = row["stderr"]
        for file, sha in row["files"].items():
            given[name, KINDS.get(file.rsplit(".", 1)[-1], "other files"), file] = sha
    return given


def together(given, chosen):
    """One hash over all that is chosen, and how many that is."""
    rows = sorted(f"{' | '.join(key)} {value}" for key, value in given.items() if chosen(key))
    return hashlib.sha256("\n".join(rows).encode()).hexdigest()[:16], len(rows)


def section(title, rows, machines):
    print(f"| {title} | of | {' | '.join(machines)} |")
    print("| --- " * (len(machines) + 2) + "|")
    for name, chosen in rows:
        cells = []
        count = 0
        for given in machines.values():
            digest, many = together(given, chosen)
            count = max(count, many)
            cells.append(f"`{digest}`" if many else "not there")
        print(f"| {name} | {count} | {' | '.join(cells)} |")
    print()


def main(arguments):
    paths = dict(word.split("=", 1) for word in arguments)
    machines = {name: things(pathlib.Path(path)) for name, path in paths.items()}
    measure = next(iter(machines.values()))
    whole = {name: given for name, given in machines.items() if not paths[name].endswith(".txt")}
    recordings = sorted({name.split(":")[0] for name, *_ in measure if name.endswith(": findings and report")})

    print("## By kind, over everything\n")
    section("what", [(kind, lambda key, kind=kind: key[1] == kind) for kind in ORDER], whole)
    print("## Findings of each recording\n")
    section("recording", [
        (name, lambda key, name=name: key[:2] == (f"{name}: findings and report", "findings")) for name in recordings
    ], machines)  # fmt: skip
    print("## Everything of each recording: findings, report, text, what inspect and verify say\n")
    section("recording", [(name, lambda key, name=name: key[0].startswith(f"{name}: ")) for name in recordings], whole)
    print("## Each other command\n")
    others = list(dict.fromkeys(key[0] for key in measure if key[0].split(":")[0] not in recordings or "simulate" in key[0]))
    section("command", [(name, lambda key, name=name: key[0] == name) for name in others], whole)

    differ = [
        (machine, key)
        for machine, given in machines.items()
        for key in sorted(set(measure) | set(given))
        if measure.get(key) != given.get(key) and not (paths[machine].endswith(".txt") and key not in given)
    ]
    print("## What differs\n")
    for machine, (name, kind, file) in differ:
        print(f"- {machine}: {name}, {kind} {file}".rstrip())
    print("" if differ else "Nothing.")
    return 1 if differ else 0


if __name__ == "__main__":
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    sys.exit(main(sys.argv[1:]))
