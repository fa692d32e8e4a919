#!/usr/bin/env bash
# The same numbers in WebAssembly: builds the core for wasm32-unknown-unknown, replays recordings in
# node, and compares the findings with the program's, byte for byte.
#
#   tests/targets/wasm/run.sh PROGRAM [RECORDING...]    without recordings: the demo's
#
# Needs node and a Rust compiler that has the target or can build it: the usual toolchain after
# `rustup target add wasm32-unknown-unknown`, or Debian's rustc-web, cargo-web and rust-web-src.
# Exits with 77 where there is neither.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../../.." && pwd)
program=$(realpath "${1:?the program to compare with}")
shift
[ $# -gt 0 ] || set -- "$root"/demo/*.jsonl

skip() { echo "not checked: WebAssembly ($1)"; exit 77; }
command -v node >/dev/null || skip "no node"

target=wasm32-unknown-unknown
cd "$root"
if rustup target list --installed 2>/dev/null | grep -qx $target; then
    cargo build --quiet --release --target $target -p wasm-core
elif source=$(ls -d /usr/src/rustc-1.*/library 2>/dev/null | head -n 1) && [ -x /usr/bin/cargo ]; then
    # The compiler with sources brings no linker for this target; the usual one's does.
    linker=$(rustc --print sysroot)/lib/rustlib/x86_64-unknown-linux-gnu/bin/rust-lld
    [ -x "$linker" ] || linker=$(command -v wasm-ld rust-lld lld | head -n 1) || skip "no linker"
    RUSTC_BOOTSTRAP=1 RUSTC=/usr/bin/rustc __CARGO_TESTS_ONLY_SRC_ROOT="$source" PATH=/usr/bin:"$PATH" \
        CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER="$linker" \
        /usr/bin/cargo build --quiet --release --target $target -Zbuild-std=std,panic_abort -p wasm-core
else
    skip "no compiler for $target"
fi

module=${CARGO_TARGET_DIR:-target}/$target/release/wasm_core.wasm
made=$(mktemp -d)
trap 'rm -rf "$made"' EXIT
node "$here/findings.mjs" "$module" "$made" "$@"
differ=0
for recording in "$@"; do
    name=$(basename "$recording" .jsonl)
    if "$program" replay "$recording" --json | cmp -s - "$made/$name.json"; then
        echo "same in WebAssembly: $name"
    else
        echo "differs in WebAssembly: $name"
        differ=1
    fi
done
exit $differ
