#!/usr/bin/env bash
# Holds the report against readers that know nothing of needlerest: an HTML validator, a browser
# with an accessibility library, and two readers of Parquet. Run by hand (some four minutes, a
# browser and downloads: too much for .ci/run); needs chromium, node, npm and
# python3 with venv. What it downloads is pinned: browser/package-lock.json and requirements.txt.
# Nothing is skipped: what cannot be had ends it with an error.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../.." && pwd)
tools="$root/target/outside"
made=$(mktemp -d)
trap 'rm -rf "$made"' EXIT
mkdir -p "$tools"

cannot() {
    echo "outside.sh: cannot $1; the checks of the report by outside readers were not made" >&2
    exit 1
}
for tool in node npm python3 "${CHROMIUM:-chromium}"; do
    command -v "$tool" >/dev/null || cannot "find $tool"
done

cp "$here"/browser/package*.json "$here"/browser/check.mjs "$tools"
(cd "$tools" && npm ci --no-audit --no-fund --silent) || cannot "install the npm packages"
python3 -m venv "$tools/python" || cannot "make a Python environment"
"$tools/python/bin/pip" install --quiet --disable-pip-version-check -r "$here/requirements.txt" ||
    cannot "install the Python packages"

cd "$root"
program() { cargo run --quiet --features pdf,parquet -- "$@"; }
NEEDLEREST_SHOW="$made" cargo test --quiet --features pdf,parquet --test report show -- --ignored

# A lost link and a resumed recording have gaps on purpose: code 5, no reading, is expected there.
for visit in visit resumed; do
    program replay "$made/$visit.jsonl" --report "$made/$visit" >/dev/null || [ $? = 5 ]
    program parquet "$made/$visit.jsonl" "$made/$visit-tables" >/dev/null
    "$tools/python/bin/python" "$here/read_parquet.py" "$made/$visit-tables" "$made/$visit/findings.json"
done
cp "$made/visit/index.html" "$made/replayed.html"
CHROMIUM=$(command -v "${CHROMIUM:-chromium}") node "$tools/check.mjs" "$made" ${1:+"$1"}
