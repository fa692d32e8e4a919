#!/usr/bin/env python3
"""Goes through the list of commands with one machine's program and keeps a hash of everything that
comes out:

    walk.py CORPUS FOLDER PROGRAM...

PROGRAM may be several words: `wine needlerest.exe`, `qemu-s390x-static needlerest`. FOLDER gets
`made` (what the program wrote), `said` (what it printed) and `hashes.json`: of each command the
exit code, what it printed, and every file that it wrote.

What is made alike before it is compared, because systems differ in it: the backslash between
folders, the system's own words for its errors, and where it keeps settings. Nothing else.
"""

import hashlib
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys

import commands

LIMIT_S = 900  # only so that a hang ends
SETTINGS = re.compile(r"\S*needlerest/settings\.toml")
SYSTEM_WORDS = re.compile(r"(: )[^:\n]*\(os\s+error\s+\d+\)")


def main(corpus, folder, *program):
    folder = pathlib.Path(folder).resolve()
    program = [os.path.abspath(word) if os.path.isfile(word) else word for word in program]
    shutil.rmtree(folder, ignore_errors=True)
    (folder / "made").mkdir(parents=True)
    (folder / "said").mkdir()
    shutil.copytree(corpus, folder / "corpus")
    (folder / "corpus/signer.key").chmod(0o600)
    os.environ.update(XDG_CONFIG_HOME=str(folder / "settings"), HOME=os.environ.get("HOME", "/"))
    for name in ("NO_COLOR", "COLUMNS", "CLICOLOR_FORCE"):
        os.environ.pop(name, None)

    hashes = {}
    for name, arguments in commands.all_of(corpus):
        before = files(folder / "made")
        done = subprocess.run(
            [*program, *arguments], cwd=folder, stdin=subprocess.DEVNULL, capture_output=True, timeout=LIMIT_S, check=False
        )
        kept = folder / "said" / re.sub(r"\W+", "-", name)
        out, err = alike(done.stdout), alike(done.stderr)
        kept.with_suffix(".out").write_bytes(out)
        kept.with_suffix(".err").write_bytes(err)
        after = files(folder / "made")
        hashes[name] = {
            "code": done.returncode,
            "stdout": sha(out),
            "stderr": sha(err),
            "files": {path: digest for path, (digest, stamp) in after.items() if before.get(path) != (digest, stamp)},
        }
        # Kept as it comes, so that what was broken off can be compared as far as it went.
        (folder / "hashes.json").write_text(json.dumps(hashes, indent=1))
    shutil.rmtree(folder / "corpus")
    print(f"{len(hashes)} commands, {sum(len(row['files']) for row in hashes.values())} files")


def alike(said):
    if said.lstrip()[:1] in (b"{", b"["):  # JSON names no files
        return said
    text = said.decode("utf-8", "surrogateescape").replace("\\", "/")
    text = SYSTEM_WORDS.sub(r"\1THE SYSTEM'S WORDS", text)
    return SETTINGS.sub("SETTINGS", text).encode("utf-8", "surrogateescape")


SEEN = {}


def files(folder):
    """Hash and time of change of every file below the folder; a file is read once."""
    found = {}
    for path in sorted(folder.rglob("*")):
        if not path.is_file():
            continue
        stamp = path.stat().st_mtime_ns
        if (path, stamp) not in SEEN:
            SEEN[path, stamp] = sha(path.read_bytes())
        found[path.relative_to(folder).as_posix()] = (SEEN[path, stamp], stamp)
    return found


def sha(data):
    return hashlib.sha256(data).hexdigest()


if __name__ == "__main__":
    if len(sys.argv) < 4:
        sys.exit(__doc__)
    main(*sys.argv[1:])
