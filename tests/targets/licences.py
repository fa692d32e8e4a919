#!/usr/bin/env python3
"""Prints the licences of every part that is built into the program for a target:

    licences.py TARGET

Names, versions and licences come from Cargo, the texts from the sources that Cargo fetched. A text
that many parts share is printed once, under the names of all of them.
"""

import json
import pathlib
import subprocess
import sys

TEXTS = ("licen", "copying", "copyright", "notice", "unlicense")


def output(*command):
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def main(target):
    tree = output("cargo", "tree", "--target", target, "-e", "normal", "--prefix", "none", "-f", "{p}")
    built = {tuple(line.split()[:2]) for line in tree.splitlines() if line}
    packages = json.loads(output("cargo", "metadata", "--format-version", "1", "--filter-platform", target))["packages"]
    parts = sorted((p for p in packages if (p["name"], f"v{p['version']}") in built), key=lambda p: p["name"])
    missing = built - {(p["name"], f"v{p['version']}") for p in parts}
    if missing:
        sys.exit(f"not known to Cargo's metadata: {sorted(missing)}")

    print("The parts that are built into this program, and their licences.\n")
    texts = {}
    for part in parts:
        name = f"{part['name']} {part['version']}"
        licence = part["license"] or "see its text"
        print(f"{name}: {licence}")
        folder = pathlib.Path(part["manifest_path"]).parent
        for path in found(folder):
            text = path.read_text(encoding="utf-8", errors="replace").strip()
            texts.setdefault(" ".join(text.split()), (text, []))[1].append(f"{name}: {path.relative_to(folder)}")
    others(target)
    for text, names in texts.values():
        print("\n" + "=" * 100 + "\n" + "\n".join(names) + "\n\n" + text)


def found(folder):
    for path in sorted(folder.rglob("*")):
        inside = path.relative_to(folder)
        if path.is_file() and path.name.lower().startswith(TEXTS) and path.suffix != ".rs":
            if inside.parts[0] not in ("target", "tests", "fuzz", "node_modules"):
                yield path


def others(target):
    """What no crate brings: the standard library, and the C library that is linked in."""
    print("Rust's standard library: MIT OR Apache-2.0, Copyright the Rust Project contributors; its")
    print("    tables of characters: Unicode-3.0")
    if "musl" in target:
        print("musl (the C library): MIT, Copyright © 2005-2020 Rich Felker, et al.; www.musl-libc.org")
        print("LLVM's libunwind, as Rust and Zig bring it: Apache-2.0 WITH LLVM-exception")
    if "windows" in target:
        print("mingw-w64's runtime: public domain and ZPL-2.1; www.mingw-w64.org")
        print("GCC's libgcc: GPL-3.0-or-later WITH GCC-exception-3.1, which asks nothing of what is linked with it")


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    main(sys.argv[1])
