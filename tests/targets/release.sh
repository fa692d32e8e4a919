#!/usr/bin/env bash
# Archives for those who do not build: the program with its licences and those of its parts, its
# completions, its manual pages and the documents; SHA-256 of each; a signature of that list.
#
#   tests/targets/release.sh [TARGET...]     without one: all three below, into target/archives
#   KEY=FILE                                 private Ed25519 key (PEM) to sign with: needlerest key
#   QUICK=1                                  less optimised, to try this script
#
# Each archive is then unpacked and tried: on Linux in an empty root folder, so that it is seen to
# need nothing of the system (aarch64 by qemu), on Windows's behalf under wine.
# Who downloads checks with:
#   sha256sum --check --ignore-missing SHA256SUMS
#   openssl pkeyutl -verify -pubin -inkey KEY.pub -rawin -in SHA256SUMS -sigfile SHA256SUMS.sig
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
cd "$here/../.."
out=$PWD/target/archives
targets=("$@")
[ $# -gt 0 ] || targets=(x86_64-unknown-linux-musl aarch64-unknown-linux-musl x86_64-pc-windows-gnu)
quick=()
if [ -n "${QUICK:-}" ]; then
    export CARGO_PROFILE_RELEASE_OPT_LEVEL=1 CARGO_PROFILE_RELEASE_CODEGEN_UNITS=16
    quick=(--config profile.release.package.needlerest.opt-level=0)
fi
version=$(sed -n 's/^version = "\(.*\)"/\1/p' Cargo.toml | head -n 1)
rm -rf "$out"
mkdir -p "$out"

# What comes from the program itself is the same whatever machine it is for.
cargo build --quiet
native=$PWD/target/debug/needlerest

build() { # TARGET: the path of the program
    case $1 in
        *musl) "$here/zig.sh" --quiet "${quick[@]}" --release --target "$1" >&2 ;;
        *windows*) CARGO_TARGET_X86_64_PC_WINDOWS_GNU_LINKER=x86_64-w64-mingw32-gcc \
            cargo build --quiet "${quick[@]}" --release --target "$1" >&2 ;;
    esac
    ls "target/$1/release/needlerest.exe" 2>/dev/null || echo "target/$1/release/needlerest"
}

fill() { # TARGET PROGRAM FOLDER
    mkdir -p "$3/completions" "$3/man"
    cp "$2" "$3"
    # The documents, and what they point to.
    cp -r --parents README.md CHANGELOG.md LICENSE-APACHE LICENSE-MIT protocol/*.md protocol/*.toml protocol/*.json \
        demo src/cli/guide/*.md tests/results/*.md "$3"
    grep -oE '\]\([^)#:]+' "$3/README.md" | cut -c3- | grep -v '^https\?$' | while read -r linked; do
        [ -e "$3/$linked" ] || { echo "README.md points to $linked, which is not in the archive" >&2; exit 1; }
    done
    python3 "$here/licences.py" "$1" >"$3/LICENCES-OF-PARTS.txt"
    for shell in bash elvish fish powershell zsh; do
        "$native" completions $shell >"$3/completions/needlerest.$shell"
    done
    "$native" manpages "$3/man" >/dev/null
}

try_linux() { # TARGET ARCHIVE
    local root name run=()
    root=$(mktemp -d)
    tar -xzf "$2" -C "$root"
    name=$(basename "$2" .tar.gz)
    mkdir "$root/tmp"
    if [[ $1 == aarch64* ]]; then
        cp "$(command -v qemu-aarch64-static)" "$root/qemu"
        run=(/qemu)
    fi
    (cd "$root/$name" && as_root chroot "$root" "${run[@]}" "/$name/needlerest" demo --folder /tmp/demo >"$root/said")
    tried "$root/said" "$root/tmp/demo"
    as_root rm -rf "$root"
}

try_windows() { # ARCHIVE
    local folder
    folder=$(mktemp -d)
    python3 -m zipfile -e "$1" "$folder"
    # Debian's wine lacks a library of Windows; this stands for it.
    x86_64-w64-mingw32-gcc -shared -o "$folder/$(basename "$1" .zip)/bcryptprimitives.dll" \
        "$here/bcryptprimitives.c" -ladvapi32
    (cd "$folder" && WINEPREFIX="$folder/wine" WINEDEBUG=-all \
        wine "$(basename "$1" .zip)/needlerest.exe" demo --folder demo >said 2>/dev/null)
    tried "$folder/said" "$folder/demo"
    WINEPREFIX="$folder/wine" wineserver -k || true
    rm -rf "$folder"
}

as_root() { if [ "$(id -u)" = 0 ]; then "$@"; else sudo "$@"; fi; }

measure=$(mktemp -d)
trap 'rm -rf "$measure"' EXIT
"$native" demo --folder "$measure/demo" >/dev/null
tried() { # WHAT-IT-SAID REPORTS: the same reports as the program that was built here
    grep -q 'heron.index.html' "$1"
    diff -r "$measure/demo" "$2"
}

for target in "${targets[@]}"; do
    system=${target/-unknown/}
    system=${system/-pc/}
    system=${system/-musl/}
    system=${system/-gnu/}
    name=needlerest-$version-$system
    program=$(build "$target")
    fill "$target" "$program" "$out/$name"
    case $target in
        *windows*)
            (cd "$out" && python3 -m zipfile -c "$name.zip" "$name")
            try_windows "$out/$name.zip" ;;
        *)
            tar -C "$out" --sort=name --owner=0 --group=0 --numeric-owner -czf "$out/$name.tar.gz" "$name"
            try_linux "$target" "$out/$name.tar.gz" ;;
    esac
    rm -r "${out:?}/$name"
    echo "unpacked, demo run, reports the same: $(cd "$out" && ls -s --block-size=K "$name".*)"
done

cd "$out"
sha256sum -- *.tar.gz *.zip 2>/dev/null >SHA256SUMS || true
if [ -n "${KEY:-}" ]; then
    openssl pkeyutl -sign -inkey "$KEY" -rawin -in SHA256SUMS -out SHA256SUMS.sig
    openssl pkey -in "$KEY" -pubout -out needlerest.pub
    openssl pkeyutl -verify -pubin -inkey needlerest.pub -rawin -in SHA256SUMS -sigfile SHA256SUMS.sig
else
    echo "not signed: no KEY was given"
fi
cat SHA256SUMS
