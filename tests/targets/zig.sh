#!/usr/bin/env bash
# `cargo zigbuild` with these arguments: a compiler and linker for C that brings musl for every
# machine, so that the program needs no library of the system it runs on. Both come as Python
# packages into target/zig, once.
set -euo pipefail
cd "$(dirname "$0")/../.."
if [ ! -x target/zig/bin/cargo-zigbuild ]; then
    python3 -m venv target/zig
    target/zig/bin/pip install --quiet ziglang==0.17.1 cargo-zigbuild==0.24.1
fi
PATH="$PWD/target/zig/bin:$PATH" exec cargo zigbuild "$@"
