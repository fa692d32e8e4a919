#!/usr/bin/env bash
# The page of results: page.sh FOLDER COMMAND, to standard output; run.sh calls it.
set -euo pipefail
out=$1
version() { command -v "$1" >/dev/null && { "$@" 2>/dev/null | head -n 1; } || echo "no $1"; }
cat <<END
# The same on every machine: last results

$(date +'%-d %B %Y'), \`$(echo $2)\`, on $(uname -sm), needlerest $(target/debug/needlerest --version | cut -d' ' -f2), $(version rustc --version | cut -d' ' -f1-2).

| machine | stands for it | what of needlerest |
| --- | --- | --- |
| x86_64 Linux | itself; the measure for the others | the whole program, unoptimised (\`cargo build\`) |
| aarch64 Linux | $(version qemu-aarch64-static --version) | the whole program, static (musl) |
| x86_64 Windows | $(version wine --version) | the whole program (mingw) |
| s390x, big-endian | $(version qemu-s390x-static --version) | the core (\`--no-default-features\`) |
| wasm32 | node $(version node --version) | the core |

The corpus ($(ls "$out/corpus/recordings" | wc -l) recordings, $(ls "$out"/corpus/recipes/*.recipe.toml | wc -l) recipes) is made by \`tests/targets/corpus.py\`: the demo, 32 visits drawn by
the simulator (seed 27), eight to the practice engines with and without a check valve, one with tests by air, one visit by each
kind of sensor (two protocol files of version 1, five of version 2), a recording kept since version 1,
and 16 kinds of damage. The commands are in
\`tests/targets/commands.py\`. A hash is the beginning of the SHA-256 over all that a row names; a
machine that runs the core alone has a column only where findings are compared. Made alike before: the
backslash between folders, the system's own words for its errors, where settings are kept.

$(cat "$out/table.md")

## The test suite on aarch64

By \`tests/targets/suite.sh\`: all tests but those of the radio, and the program that they start, built for
aarch64 Linux (glibc) and run by qemu.

$(cat "$out/suite.md" 2>/dev/null || echo "Not run.")

## What only Windows has

Tried by \`tests/targets/windows.py\` under wine:

$(sed 's/^holds: /- /; s/^FAILS: /- **fails**: /' "$out/windows.txt" 2>/dev/null || echo "Not run.")

Not shown by wine: Bluetooth; a real console (the live gauge, its keys, colours, code pages); Ctrl-C;
that what is synced is on the disk after a power cut; how long a path or a name may be on a real file
system; what a virus scanner does to files that are being written; a real Windows at all. Wine has
locks and device names of its own, so that the holding of a recording and the refusal of names are
shown for wine only. Not shown by qemu: speed, memory of a small board, Bluetooth.

## Archives

\`tests/targets/release.sh\` makes archives for x86_64 and aarch64 Linux (static) and for Windows, and tries
each: unpacked into a root folder with nothing else in it (aarch64 with qemu; Windows under wine), the
demo runs, and its reports are the bytes that the program built here writes.
END
