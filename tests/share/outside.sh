#!/usr/bin/env bash
# The page for the phone in a real browser: every state at every size, held against axe-core and an
# HTML validator, and how soon it shows what the sensor told. Run by hand; needs chromium, node and
# npm, and downloads what tests/report/browser/package-lock.json pins. Where there is no browser it
# says so and checks nothing. With a folder: the pictures are kept there, to be looked at.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../.." && pwd)
tools="$root/target/outside"
chromium=$(command -v "${CHROMIUM:-chromium}") || true
for tool in node npm "${chromium:-chromium}"; do
    if ! command -v "$tool" >/dev/null; then
        echo "not checked: there is no $tool here; the page for the phone was not looked at"
        exit 0
    fi
done
mkdir -p "$tools"
cp "$root"/tests/report/browser/package*.json "$tools"
(cd "$tools" && npm ci --no-audit --no-fund --silent)
cp "$here"/browser/*.mjs "$tools"

made=$(mktemp -d)
trap 'rm -rf "$made"' EXIT
cd "$root"
cargo build --quiet ${RELEASE:+--release}
export CHROMIUM="$chromium" PROGRAM="$root/target/${RELEASE:+release}${RELEASE:-debug}/needlerest"
PROGRAM=${PROGRAM/release1/release}
node "$tools/check.mjs" "$made" "${1:-}"
sed 's/^rate_hz = .*/rate_hz = 1000.0/' "$root/demo/heron.recipe.toml" >"$made/heron.recipe.toml"
cp "$root/demo/heron.card.toml" "$made"
"$PROGRAM" simulate "$made/heron.recipe.toml" --out "$made" >/dev/null
node "$tools/latency.mjs" "$made/heron.jsonl" "$made"
