"""The same plots by matplotlib, from the same CSV and JSON, to set our times against.

    cargo bench --bench report -- FOLDER
    pip install -r tests/benches/peers/requirements.txt
    python tests/benches/peers/report.py FOLDER

Both draw in a process that is warm: imports and fonts are loaded before the clock starts.
"""
import csv
import io
import json
import statistics
import sys
import time

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt

folder = sys.argv[1]
ROUNDS = 10
PSI = 6894.757293168
COLOURS = ["#0072b2", "#d55e00", "#009e73", "#cc79a7", "#e69f00", "#56b4e9"]
MARKERS = "os^Dv*"


def read():
    findings = json.load(open(f"{folder}/findings.json"))
    strokes = {}
    for row in csv.DictReader(open(f"{folder}/strokes.csv", newline="")):
        numbers, peaks = strokes.setdefault(int(row["run"]) - 1, ([], []))
        numbers.append(int(row["stroke"]))
        peaks.append(float(row["peak_pa"]) / PSI)
    return findings, strokes, json.load(open(f"{folder}/traces.json"))


def panel(axes, findings, strokes, runs, name, title):
    limits = findings["card"]["limits"]
    low, high, limit = (float(limits[key].split()[0]) / PSI for key in ("normal_low", "normal_high", "service_limit"))
    axes.axhspan(low, high, color="#e3efe6", label=f"normal {low:.1f}–{high:.1f}")
    axes.axhline(limit, color="#808080", label=f"service limit {limit:.1f}")
    for place, (n, run) in enumerate(runs):
        numbers, peaks = strokes[n]
        colour, reading = COLOURS[place % 6], run["result"]["reading"]
        label = f"{name(run)}   {reading['value_pa'] / PSI:.1f} ± {reading['expanded_pa'] / PSI:.1f}"
        axes.plot(numbers, peaks, color=colour, marker=MARKERS[place % 6], markeredgecolor="#222", label=label)
        settled = reading.get("settled_at_stroke")
        if settled:
            axes.plot(settled, peaks[settled - 1], "o", markersize=14, fillstyle="none", color="#222")
        elif run["result"].get("build_up"):
            fit = run["result"]["build_up"]
            beyond = range(numbers[-1], numbers[-1] + 6)
            plateau = fit["plateau_pa"] / PSI
            axes.plot(beyond, [plateau * (1 - (1 - fit["first_share"]) * fit["ratio"] ** (k - 1)) for k in beyond], "--", color=colour)
    axes.set_title(title, loc="left", fontweight="bold")
    axes.set_xlabel("stroke")
    axes.set_ylabel("psi")
    axes.grid(axis="y", color="#ddd")
    axes.legend(ncols=2, fontsize=8, loc="lower right")


def by(findings, key):
    groups = {}
    for n, run in enumerate(findings["runs"]):
        groups.setdefault(run[key], []).append((n, run))
    return groups


def saved(figure, kind, **how):
    out = io.BytesIO()
    figure.savefig(out, format=kind, **how)
    plt.close(figure)
    return out.getbuffer().nbytes


def sheet(kind):
    findings, strokes, _ = read()
    groups = by(findings, "condition")
    figure, axes = plt.subplots(len(groups), 1, figsize=(8, 4.2 * len(groups)), squeeze=False)
    for ax, (condition, runs) in zip(axes[:, 0], groups.items()):
        panel(ax, findings, strokes, runs, lambda run: run["cylinder"], condition)
    figure.suptitle(findings["card"]["engine"]["label"])
    return saved(figure, kind, **({"dpi": 200} if kind == "png" else {}))


def page_plots():
    """The plots within the page: by condition, by cylinder, and pressure against time."""
    findings, strokes, traces = read()
    bytes_made = 0
    for key, other in (("condition", "cylinder"), ("cylinder", "condition")):
        for title, runs in by(findings, key).items():
            figure, ax = plt.subplots(figsize=(4.8, 3.3))
            panel(ax, findings, strokes, runs, lambda run: run[other], title)
            bytes_made += saved(figure, "svg")
    for trace in traces:
        figure, ax = plt.subplots(figsize=(4.8, 2))
        times, levels = zip(*trace["points"])
        ax.plot(times, [level / PSI for level in levels])
        bytes_made += saved(figure, "svg")
    return bytes_made


def measure(what):
    what()
    times = []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        size = what()
        times.append((time.perf_counter() - begun) * 1e3)
    return statistics.median(times), size


ours = json.load(open(f"{folder}/times-ms.json"))
print(f"matplotlib {matplotlib.__version__}, Python {sys.version.split()[0]}, median of {ROUNDS}")
print("| what | matplotlib | needlerest | ratio | matplotlib's bytes |\n| --- | --- | --- | --- | --- |")
both = [0.0, 0.0]
for name, key, what in (
    ("build-up.svg", "build-up.svg", lambda: sheet("svg")),
    ("build-up.png", "build-up.png", lambda: sheet("png")),
    ("plots of the page, and the page around them (ours)", "page", page_plots),
):
    theirs, size = measure(what)
    both = [both[0] + theirs, both[1] + ours[key]]
    print(f"| {name} | {theirs:.0f} ms | {ours[key]:.2f} ms | {theirs / ours[key]:.0f} | {size} |")
print(f"| all | {both[0]:.0f} ms | {both[1]:.1f} ms | {both[0] / both[1]:.0f} | |")
