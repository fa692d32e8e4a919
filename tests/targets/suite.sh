#!/usr/bin/env bash
# The test suite, without the radio, on emulated aarch64 Linux: builds it there and runs it by qemu,
# the program that the tests start included (for that the system is told to start programs for
# aarch64 by qemu, which needs root, until the next start of the machine).
#
#   tests/targets/suite.sh [NAME...]       of the tests' names in tests/; without one, all but radio
#
# Needs what run.sh installs for aarch64, and gcc-aarch64-linux-gnu libc6-dev-arm64-cross.
set -euo pipefail
cd "$(dirname "$0")/../.."
out=$PWD/target/machines
mkdir -p "$out"
target=aarch64-unknown-linux-gnu
as_root() { if [ "$(id -u)" = 0 ]; then "$@"; else sudo "$@"; fi; }

for package in gcc-aarch64-linux-gnu libc6-dev-arm64-cross qemu-user-static; do
    dpkg -s "$package" >/dev/null 2>&1 ||
        DEBIAN_FRONTEND=noninteractive as_root apt-get install -y -qq --no-install-recommends "$package"
done
rustup target add "$target"
kinds=/proc/sys/fs/binfmt_misc
[ -e $kinds/register ] || as_root mount -t binfmt_misc binfmt_misc $kinds
if [ ! -e $kinds/qemu-aarch64 ]; then
    # An ELF file of 64 bits, little-endian, for machine 0xb7 (aarch64).
    printf '%s' ':qemu-aarch64:M::\x7fELF\x02\x01\x01\x00\x00\x00\x00\x00\x00\x00\x00\x00\x02\x00\xb7\x00:\xff\xff\xff\xff\xff\xff\xff\x00\xff\xff\xff\xff\xff\xff\xff\xff\xfe\xff\xff\xff:/usr/bin/qemu-aarch64-static:F' |
        as_root tee $kinds/register >/dev/null
fi
export QEMU_LD_PREFIX=/usr/aarch64-linux-gnu
export CARGO_TARGET_AARCH64_UNKNOWN_LINUX_GNU_LINKER=aarch64-linux-gnu-gcc
XDG_CONFIG_HOME=$(mktemp -d)
export XDG_CONFIG_HOME

names=("$@")
if [ $# -eq 0 ]; then
    names=(--lib)
    for folder in tests/*/main.rs; do
        name=$(basename "$(dirname "$folder")")
        [ "$name" = radio ] || names+=(--test "$name")
    done
else
    names=("${names[@]/#/--test=}")
fi
cargo test --quiet --target "$target" --no-run "${names[@]}"
# Left out for their time: those that try every byte of a report (minutes even where nothing is emulated).
RUST_BACKTRACE=0 cargo test --target "$target" --no-fail-fast "${names[@]}" -- --skip forger:: 2>&1 | tee "$out/suite.txt" |
    grep -E '^ +Running|^test result|FAILED|^skipped' || true
python3 tests/targets/suite.py "$out/suite.txt" | tee "$out/suite.md"
