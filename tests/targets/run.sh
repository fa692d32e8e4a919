#!/usr/bin/env bash
# The same on every machine, shown: builds the program for each, makes one corpus, goes through one
# list of commands (commands.py) with all of them, and writes tests/results/targets.md.
#
#   tests/targets/run.sh [MACHINE...]      of: windows aarch64 s390x wasm; without one, all
#
# Needs Debian, Rust by rustup, and the right to install packages. Half an hour on two idle cores.
# QUICK=1 builds the other machines' programs with less optimisation.
# Nothing here touches a radio, a real Windows or a real board: wine and qemu stand for them.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
cd "$here/../.."
out=$PWD/target/machines
mkdir -p "$out"
machines=" ${*:-windows aarch64 s390x wasm} "
wanted() { [[ $machines == *" $1 "* ]]; }
quick=()
if [ -n "${QUICK:-}" ]; then
    export CARGO_PROFILE_RELEASE_OPT_LEVEL=1 CARGO_PROFILE_RELEASE_CODEGEN_UNITS=16
    quick=(--config profile.release.package.needlerest.opt-level=0)
fi

packages=(python3 gcc libc6-dev)
targets=()
if wanted windows; then packages+=(gcc-mingw-w64-x86-64 wine wine64); targets+=(x86_64-pc-windows-gnu); fi
if wanted aarch64; then packages+=(python3-venv qemu-user-static); targets+=(aarch64-unknown-linux-musl); fi
if wanted s390x; then packages+=(gcc-s390x-linux-gnu libc6-dev-s390x-cross qemu-user-static); targets+=(s390x-unknown-linux-gnu); fi
if wanted wasm; then packages+=(nodejs); targets+=(wasm32-unknown-unknown); fi
missing=()
for package in "${packages[@]}"; do
    dpkg -s "$package" >/dev/null 2>&1 || missing+=("$package")
done
if [ ${#missing[@]} -gt 0 ]; then
    as_root=""
    [ "$(id -u)" = 0 ] || as_root=sudo
    $as_root apt-get update -qq
    DEBIAN_FRONTEND=noninteractive $as_root apt-get install -y -qq --no-install-recommends "${missing[@]}"
fi
rustup target add "${targets[@]}"

cargo build --quiet
cargo build --quiet -p lab
native=$PWD/target/debug/needlerest
python3 "$here/corpus.py" "$native" target/debug/lab "$out/corpus"
python3 "$here/walk.py" "$out/corpus" "$out/x86_64" "$native"
columns=("x86_64 Linux=$out/x86_64/hashes.json")

if wanted aarch64; then
    "$here/zig.sh" --quiet "${quick[@]}" --release --target aarch64-unknown-linux-musl
    python3 "$here/walk.py" "$out/corpus" "$out/aarch64" qemu-aarch64-static target/aarch64-unknown-linux-musl/release/needlerest
    columns+=("aarch64 Linux (qemu)=$out/aarch64/hashes.json")
fi

if wanted windows; then
    CARGO_TARGET_X86_64_PC_WINDOWS_GNU_LINKER=x86_64-w64-mingw32-gcc \
        cargo build --quiet "${quick[@]}" --release --target x86_64-pc-windows-gnu
    mkdir -p "$out/program"
    cp target/x86_64-pc-windows-gnu/release/needlerest.exe "$out/program"
    # Debian's wine lacks a library of Windows; this stands for it, and is shipped to nobody.
    x86_64-w64-mingw32-gcc -shared -o "$out/program/bcryptprimitives.dll" "$here/bcryptprimitives.c" -ladvapi32
    export WINEPREFIX=$out/wine WINEDEBUG=-all
    wineserver -k || true
    rm -rf "$WINEPREFIX"
    mkdir -p "$WINEPREFIX"
    wineserver -p # stays, so that each command starts quickly
    wineboot --init >/dev/null 2>&1
    python3 "$here/walk.py" "$out/corpus" "$out/windows" wine "$out/program/needlerest.exe"
    columns+=("x86_64 Windows (wine)=$out/windows/hashes.json")
    python3 "$here/windows.py" "$out/corpus" "$WINEPREFIX" "$out/program/needlerest.exe" | tee "$out/windows.txt" || true
    wineserver -k || true
fi

# The core alone, where there is no program: findings only.
if wanted s390x; then
    CARGO_TARGET_S390X_UNKNOWN_LINUX_GNU_LINKER=s390x-linux-gnu-gcc \
        cargo build --quiet "${quick[@]}" --release --target s390x-unknown-linux-gnu -p core-findings
    mkdir -p "$out/s390x"
    qemu-s390x-static -L /usr/s390x-linux-gnu target/s390x-unknown-linux-gnu/release/core-findings \
        "$out/s390x" "$out"/corpus/recordings/*.jsonl
    python3 "$here/findings.py" "$out/x86_64" "$out/s390x" >"$out/s390x.txt"
    columns+=("s390x, big-endian (qemu)=$out/s390x.txt")
fi
if wanted wasm; then
    cargo build --quiet "${quick[@]}" --release --target wasm32-unknown-unknown -p wasm-core
    mkdir -p "$out/wasm"
    node "$here/wasm/findings.mjs" target/wasm32-unknown-unknown/release/wasm_core.wasm \
        "$out/wasm" "$out"/corpus/recordings/*.jsonl
    python3 "$here/findings.py" "$out/x86_64" "$out/wasm" >"$out/wasm.txt"
    columns+=("wasm32 (node)=$out/wasm.txt")
fi

same=0
python3 "$here/table.py" "${columns[@]}" >"$out/table.md" || same=1
"$here/page.sh" "$out" "tests/targets/run.sh $*" >tests/results/targets.md
sed -n '/^## What differs/,$p' "$out/table.md"
if [ -f "$out/windows.txt" ] && grep '^FAILS' "$out/windows.txt"; then same=1; fi
exit $same
