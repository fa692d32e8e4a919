#!/usr/bin/env python3
"""Hashes of the findings that the core alone gave, as table.py takes them:

    findings.py PROGRAM-S-FOLDER CORE-S-FOLDER

Where a recording is refused, the core gives the reason only and the program says it among other
words; if it is the same reason, it counts as the program's output.
"""

import hashlib
import json
import pathlib
import re
import sys


def main(program, core):
    program, core = pathlib.Path(program), pathlib.Path(core)
    hashes = json.loads((program / "hashes.json").read_text())
    for path in sorted(core.glob("*.json")):
        name = f"{path.stem}: findings and report"
        sha = hashlib.sha256(path.read_bytes()).hexdigest()
        if hashes[name]["code"] == 4:
            said = (program / "said" / re.sub(r"\W+", "-", name)).with_suffix(".err").read_text()
            if words(path.read_text()) in words(said):
                sha = hashes[name]["stdout"]
        print(path.stem, sha)


def words(text):
    return " ".join(text.split())


if __name__ == "__main__":
    main(*sys.argv[1:])
