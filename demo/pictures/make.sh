#!/usr/bin/env bash
# Makes the pictures of the README anew: the gauge after a settled run (gauge.png), the first
# screen of a report page (page.png) and its plot (build-up.png), from the demo's recordings. Needs
# tmux, python3 and chromium (or CHROME=another browser of that family).
set -euo pipefail
cd "$(dirname "$0")/../.."
program=${NEEDLEREST:-target/release/needlerest}
[ -x "$program" ] || cargo build --release
work=$(mktemp -d)
tmux="tmux -L needlerest-pictures -f /dev/null"
trap '$tmux kill-server 2>/dev/null || true; rm -rf "$work"' EXIT

# URL FILE WIDTH HEIGHT
picture() {
    "${CHROME:-chromium}" --headless --no-sandbox --disable-gpu --disable-quic --no-first-run \
        --disable-background-networking --disable-component-update --disable-sync --hide-scrollbars \
        --user-data-dir="$work/browser" --screenshot="$2" --window-size="$3,$4" "$1" 2>"$work/log"
}

# The gauge: the demo's first visit is played until the first run has settled.
$tmux new-session -d -x 100 -y 30 "$program visit --replay demo/heron.jsonl --speed 2 --quiet"
for _ in $(seq 200); do
    $tmux capture-pane -e -N -p >"$work/screen"
    grep -q 'Stop cranking' "$work/screen" && break
    sleep 0.1
done
grep -q 'Stop cranking' "$work/screen" || { echo "the run never settled" >&2; exit 1; }
python3 demo/pictures/screen.py <"$work/screen" >"$work/screen.html"
picture "file://$work/screen.html" "$PWD/demo/pictures/gauge.png" 992 570

# A report.
"$program" replay demo/heron.jsonl --report "$work/report" >"$work/text"
picture "file://$work/report/index.html" "$PWD/demo/pictures/page.png" 1100 1000
cp "$work/report/build-up.png" demo/pictures/build-up.png
echo "demo/pictures: gauge.png page.png build-up.png"
