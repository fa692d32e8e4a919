#!/usr/bin/env python3
"""Makes the corpus that is compared between machines:

    corpus.py PROGRAM LAB FOLDER

PROGRAM and LAB (`cargo build -p lab`) are those of the machine that is taken as the measure. The
folder gets `recordings`, `recipes` (whatever a recording was simulated from, to be simulated again
elsewhere), `cards`, `protocols`, `tables`. The same sources give the same bytes.
"""

import pathlib
import re
import shutil
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]
RUNS, SEED = 100, 27  # 32 visits drawn by src/simulate/draw.rs: six families of engines, both rigs
HURT = "otter"  # the recording that is damaged in every way below


def main(program, lab, folder):
    folder = pathlib.Path(folder)
    shutil.rmtree(folder, ignore_errors=True)
    for name in ("recordings", "recipes", "cards", "protocols", "tables"):
        (folder / name).mkdir(parents=True)
    recordings, recipes = folder / "recordings", folder / "recipes"

    for path in sorted((ROOT / "demo").glob("*.jsonl")):
        shutil.copy(path, recordings)
    for path in sorted((ROOT / "demo").glob("*.card.toml")):
        shutil.copy(path, folder / "cards")
        shutil.copy(path, recipes)
    for path in sorted((ROOT / "demo").glob("*.recipe.toml")):
        shutil.copy(path, recipes)
    for path in [*(ROOT / "protocol").glob("*.toml"), *(ROOT / "protocol/examples").glob("*.toml")]:
        shutil.copy(path, folder / "protocols")
        shutil.copy(path, recipes)
    shutil.copy(ROOT / "protocol/workbench/sensor.toml", folder / "protocols/workbench.toml")
    shutil.copy(ROOT / "protocol/workbench/sensor.toml", recipes)
    for path in (ROOT / "fixtures/import").glob("*"):
        if path.suffix in (".csv", ".txt"):
            shutil.copy(path, folder / "tables")

    for name in ("signer.key", "signer.key.pub"):
        shutil.copy(ROOT / "fixtures/report/openssl" / name, folder)
    practice(recipes)
    air(recipes)
    sensors(recipes)
    run(lab, "corpus", "--runs", str(RUNS), "--seed", str(SEED), "--out", str(recipes))
    for path in recipes.glob("*.jsonl"):
        path.rename(recordings / path.name)
    for path in recipes.glob("*.truth.json"):
        path.unlink()
    for recipe in sorted(recipes.glob("*.recipe.toml")):
        name = recipe.name.removesuffix(".recipe.toml")
        if not (recordings / f"{name}.jsonl").exists():
            run(program, "simulate", str(recipe), "--out", str(recordings))
    for path in recordings.glob("*.truth.json"):
        path.unlink()

    shutil.copy(ROOT / "fixtures/recording/v1/session.jsonl", recordings / "kept-v1.jsonl")
    for name, damage in DAMAGE.items():
        whole = (recordings / f"{HURT}.jsonl").read_bytes()
        (recordings / f"damaged-{name}.jsonl").write_bytes(damage(whole))
    print(f"{len(list(recordings.iterdir()))} recordings, {len(list(recipes.glob('*.recipe.toml')))} recipes")


def practice(recipes):
    """The practice engines, with a check valve and without."""
    for path in sorted((ROOT / "demo/practice").glob("*.recipe.toml")):
        name = path.name.removesuffix(".recipe.toml")
        text = path.read_text()
        following = re.sub(r"(?m)^check_valve = .*\n", "", text)
        assert following != text, path
        (recipes / f"{name}.recipe.toml").write_text(text)
        (recipes / f"{name}-following.recipe.toml").write_text(following)
        shutil.copy(path.with_name(f"{name}.card.toml"), recipes)


AIR = """

[[air_test]]
test = "decay-tester"
after_run = 0
cylinder = "left"
wall_celsius = 16.0
volume_cm3 = 33.0

[[air_test]]
test = "leak-down"
cylinder = "right"
wall_celsius = 16.0
heard = ["exhaust", "breather"]
"""


def air(recipes):
    """A visit of the demo, and tests with air after it."""
    text = (ROOT / "demo/wren.recipe.toml").read_text()
    (recipes / "wren-with-air.recipe.toml").write_text(text + AIR)


def sensors(recipes):
    """One engine, read by a sensor of each kind: protocol files of versions 1 and 2."""
    text = (ROOT / "protocol/workbench/recipe.toml").read_text()
    (recipes / "workbench.recipe.toml").write_text(text)
    for path in [ROOT / "protocol/environmental-sensing.toml", *(ROOT / "protocol/examples").glob("*.toml")]:
        other = text.replace('protocol = "sensor.toml"', f'protocol = "{path.name}"')
        assert other != text
        (recipes / f"sensor-{path.stem}.recipe.toml").write_text(other)


def changed(at):
    def damage(whole):
        lines = whole.splitlines(keepends=True)
        line = bytearray(lines[at])
        line[len(line) // 2] ^= 1
        lines[at] = bytes(line)
        return b"".join(lines)

    return damage


def lines(change):
    def damage(whole):
        return b"".join(change(whole.splitlines(keepends=True)))

    return damage


DAMAGE = {
    "a-bit": changed(100),
    "the-header": changed(0),
    "the-seal": changed(-1),
    "cut-off": lambda whole: whole[: len(whole) * 2 // 3],
    "without-a-line": lines(lambda all: all[:50] + all[51:]),
    "without-many-lines": lines(lambda all: all[:200] + all[260:]),
    "a-line-twice": lines(lambda all: all[:51] + all[50:]),
    "lines-swapped": lines(lambda all: all[:50] + [all[51], all[50]] + all[52:]),
    "lines-foreign": lines(lambda all: all[:90] + [b"not a record\n", b'{"type":"dream"}\n', b"\n"] + all[90:]),
    "zeros": lambda whole: whole[:40960] + bytes(4096) + whole[45056:],
    "not-text": lambda whole: whole[:30000] + bytes([0xFF, 0xFE, 0xC3]) + whole[30003:],
    "line-ends-crlf": lambda whole: whole.replace(b"\n", b"\r\n"),
    "only-the-header": lines(lambda all: all[:1]),
    "empty": lambda whole: b"",
    "foreign": lambda whole: b'{"some":"thing"}\n',
    "newer": lambda whole: whole.replace(b'"version":1', b'"version":9', 1),
}


def run(*command):
    done = subprocess.run(command, stdout=subprocess.DEVNULL, check=False)
    if done.returncode:
        sys.exit(f"{' '.join(command)}: exit code {done.returncode}")


if __name__ == "__main__":
    if len(sys.argv) != 4:
        sys.exit(__doc__)
    main(*sys.argv[1:])
