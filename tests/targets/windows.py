#!/usr/bin/env python3
"""What only Windows has, tried under wine with the program built for Windows:

    windows.py CORPUS PREFIX PROGRAM.exe

PREFIX is the wine prefix, whose `drive_c` is the drive C:. Prints a line a check, and ends with 1 if
one fails. What is expected comes from the same commands with plain names on this machine's disk.
"""

import os
import pathlib
import shutil
import subprocess
import sys
import time

CORPUS, PREFIX, PROGRAM = (pathlib.Path(word).resolve() for word in sys.argv[1:4])
FOLDER = PREFIX / "drive_c/engines/Übungs Motor №1"
HERE = "C:\\engines\\Übungs Motor №1"
failed = []


def start(*arguments, **options):
    words = ["wine", str(PROGRAM), *arguments]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    return subprocess.Popen(words, cwd=FOLDER, text=True, encoding="utf-8", **pipes, **options)


def run(*arguments, typed=""):
    child = start(*arguments)
    out, err = child.communicate(typed, timeout=600)
    return child.returncode, out, err


def check(name, holds, seen=""):
    print(f"{'holds' if holds else 'FAILS'}: {name}", flush=True)
    if not holds:
        failed.append(name)
        print(f"    {seen}")


def paths():
    plain = run("replay", "heron.jsonl", "--json")
    for name, path in {
        "drive letter, backslashes, space, letters outside ASCII": f"{HERE}\\Ventil – größer.jsonl",
        "slashes": f"{HERE}\\heron.jsonl".replace("\\", "/"),
        "backslashes from where one is": ".\\sub\\..\\heron.jsonl",
        "a path of any length (\\\\?\\)": f"\\\\?\\{HERE}\\heron.jsonl",
    }.items():
        seen = run("replay", path, "--json")
        check(f"path: {name}", seen[:2] == plain[:2] and plain[0] == 0, seen)
    seen = run("replay", f"{HERE}\\heron.jsonl", "--report", f"{HERE}\\Bericht 1")
    check("report into such a folder", seen[0] == 0 and (FOLDER / "Bericht 1/index.html").is_file(), seen)
    seen = run("replay", "heron.jsonl", "--report", "Bericht 1")
    check("an older report is kept", seen[0] == 1, seen)
    seen = run("replay", "heron.jsonl", "--report", "Bericht 1", "--replace")
    check("and replaced when asked", seen[0] == 0, seen)
    seen = run("verify", f"{HERE}\\Bericht 1", "heron.jsonl")
    check("verify", seen[0] == 0, seen)
    seen = run("overview", HERE, "--out", "Über sicht")
    check("overview", seen[0] in (0, 3) and (FOLDER / "Über sicht").is_dir(), seen)


def texts():
    plain = run("replay", "heron.jsonl", "--card", "otter.card.toml")
    card = (FOLDER / "otter.card.toml").read_text()
    for name, data in {
        "line ends CR LF": card.replace("\n", "\r\n").encode(),
        "UTF-8 with a mark": b"\xef\xbb\xbf" + card.encode(),
        "UTF-16, as PowerShell's > writes": card.encode("utf-16"),
    }.items():
        (FOLDER / "windows.toml").write_bytes(data)
        seen = run("replay", "heron.jsonl", "--card", "windows.toml")
        check(f"card: {name}", seen[:2] == plain[:2], seen)
    sensor = (CORPUS / "protocols/frames.toml").read_text()
    (FOLDER / "sensor.toml").write_text(sensor)
    plain = run("protocol", "check", "sensor.toml")
    (FOLDER / "sensor.toml").write_bytes(sensor.replace("\n", "\r\n").encode())
    seen = run("protocol", "check", "sensor.toml")
    check("protocol file: line ends CR LF", seen == plain and seen[0] == 0, seen)


def names():
    for name in ["nul.jsonl", "AUX.jsonl", "com1.jsonl"]:
        seen = run("practice", name, "--plain", "--cautions-read", typed="stop\n")
        check(f"a recording called {name} is refused", seen[0] == 1 and name in seen[2], seen)


def settings():
    file = next((PREFIX / "drive_c/users").glob("*/AppData/Roaming")) / "needlerest/settings.toml"
    file.unlink(missing_ok=True)
    seen = run("settings", "set", "unit", "bar")
    check("settings are in %APPDATA%", seen[0] == 0 and 'unit = "bar"' in file.read_text(), seen)
    seen = run("replay", "heron.jsonl")
    check("and are used", "bar" in seen[1], seen)
    file.write_bytes(file.read_bytes().replace(b"\n", b"\r\n"))
    seen = run("settings")
    check("with line ends CR LF too", seen[0] == 0 and "bar" in seen[1], seen)
    seen = run("settings", "forget", "unit")
    check("and forgotten", seen[0] == 0 and "unit" not in file.read_text(), seen)


def console():
    code, out, err = run("replay", "heron.jsonl")
    check("no colours where no terminal is", "\x1b" not in out + err and code == 0)
    check("100 columns at most", max(map(len, out.splitlines())) <= 100)


def practice():
    seen = run("practice", "übung.jsonl", "--plain", "--cautions-read", typed="stop\n")
    check("practice ends at a word", seen[0] in (0, 130), seen)
    said = FOLDER / "said.txt"
    tell = 'echo "%NEEDLEREST_EVENT%" >> "said by cmd.txt"'
    seen = run("visit", "--replay", "heron.jsonl", "--speed", "0", "--plain", "--cautions-read", "--announce", tell)
    said = FOLDER / "said by cmd.txt"
    for _ in range(100):  # nobody waits for the user's command
        if said.exists() and "finished" in said.read_text():
            break
        time.sleep(0.1)
    check("--announce: a command with quotes goes through cmd", said.exists() and '"settled"' in said.read_text(), seen)


def two_at_once():
    """A visit holds its recording open; a second program may read it and not write it."""
    child = start("practice", "open.jsonl", "--plain", "--cautions-read")
    child.stdin.write("go\n")
    child.stdin.flush()
    recording = FOLDER / "open.jsonl"
    while child.poll() is None and not (recording.exists() and recording.stat().st_size > 20000):
        time.sleep(0.1)
    seen = run("practice", "open.jsonl", "--resume", "--plain", "--cautions-read", typed="stop\n")
    check("a second program does not write it", seen[0] == 1 and "another program is writing it" in seen[2], seen)
    seen = run("inspect", "open.jsonl")
    check("a second program reads it", seen[0] in (0, 3) and "cannot read" not in seen[2], seen)
    child.communicate("stop\n", timeout=600)
    seen = run("inspect", "open.jsonl")
    check("afterwards it is whole", seen[0] == 0, seen)
    seen = run("practice", "open.jsonl", "--resume", "--plain", "--cautions-read", typed="stop\n")
    check("and can be gone on with", "another program" not in seen[2] and seen[0] in (0, 130), seen)


def main():
    os.environ.update(WINEPREFIX=str(PREFIX), WINEDEBUG="-all", LC_ALL="C.UTF-8")
    shutil.rmtree(FOLDER, ignore_errors=True)
    (FOLDER / "sub").mkdir(parents=True)
    shutil.copy(CORPUS / "recordings/heron.jsonl", FOLDER)
    shutil.copy(CORPUS / "recordings/heron.jsonl", FOLDER / "Ventil – größer.jsonl")
    shutil.copy(CORPUS / "cards/otter.card.toml", FOLDER)
    for part in [paths, texts, names, settings, console, practice, two_at_once]:
        part()
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
