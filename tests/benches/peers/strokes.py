"""The work of `cargo bench --bench throughput` by numpy and scipy, on the same bytes.

    cargo bench --bench throughput -- target/peers
    python3 -m venv target/peers/venv
    target/peers/venv/bin/pip install -r tests/benches/peers/requirements.txt
    target/peers/venv/bin/python tests/benches/peers/strokes.py target/peers

One core (OMP_NUM_THREADS=1 has no effect on what is used here). Prints times, ratios, and how
many strokes both found within 20 ms of each other.

`find_peaks` gives the highest sample of each stroke. The tops between the samples, which needlerest
gives with their uncertainty, are fitted here in two ways: by a parabola through three samples, all
strokes at once and without an uncertainty, and by `curve_fit` with the shape that needlerest uses.
"""

import pathlib
import platform
import sys
import time
import warnings

import numpy as np
import scipy
from scipy.optimize import OptimizeWarning, curve_fit
from scipy.signal import find_peaks

# The least of so many passes counts, or of as many as take this long (s): other work on the machine
# comes and goes.
PASSES, LONG = 9, 15.0
PACKET = np.dtype(
    [
        ("sequence", "<u2"),
        ("tick", "<u4"),
        ("interval", "<u4"),
        ("status", "u1"),
        ("battery", "u1"),
        ("temperature", "<i2"),
        ("pressure", "u1", (10, 3)),
    ]
)


def decode(raw):
    packets = np.frombuffer(raw, PACKET)
    assert (np.diff(packets["sequence"].astype(np.int32)) % 65536 == 1).all()
    tick = np.unwrap(packets["tick"].astype(np.float64), period=2.0**32)
    at = tick[:, None] + np.arange(10) * packets["interval"][:, None]
    parts = packets["pressure"].astype(np.int32)
    value = parts[..., 0] | parts[..., 1] << 8 | parts[..., 2] << 16
    value = np.where(value >= 1 << 23, value - (1 << 24), value)
    return at.ravel() * 1e-6, value.ravel().astype(np.float64)


def peaks(pressure):
    zero = np.median(pressure[:1000])
    found, _ = find_peaks(pressure, height=zero + 60e3, prominence=60e3, distance=60)
    return found


def following(at, pressure):
    return at[peaks(pressure)]


def by_parabola(at, pressure):
    """Through the highest sample and its neighbours, evenly spaced."""
    found = peaks(pressure)
    left, top, right = (pressure[found + k] for k in (-1, 0, 1))
    bend = left - 2 * top + right
    off = np.divide(0.5 * (left - right), bend, where=bend < 0, out=np.zeros(len(found)))
    level = top - 0.25 * (left - right) * off
    return at[found] + off * (at[1] - at[0]), level


def shape(t, level, top, width, skew):
    x = (t - top) / width
    volume = np.maximum(1 + x**2 + skew * np.maximum(x, 0) ** 3, 0.1)
    return level * volume**-1.3


def by_curve_fit(at, pressure):
    """The samples about the highest that are not below 0.8 of it, at most 64 on either side."""
    zero = np.median(pressure[:1000])
    tops, levels, doubts = [], [], []
    for place in peaks(pressure):
        around = slice(max(place - 64, 0), place + 65)
        high = (pressure[around] - zero) >= 0.8 * (pressure[place] - zero)
        t = at[around][high] - at[place]
        p = pressure[around][high] - zero + 101325.0
        try:
            found, variance = curve_fit(shape, t, p, (p.max(), 0.0, 0.02, 0.6))
        except RuntimeError:
            found, variance = (p.max(), 0.0), np.full((2, 2), np.nan)
        tops.append(at[place] + found[1])
        levels.append(found[0])
        doubts.append(np.sqrt(variance[0, 0]))
    return np.array(tops), np.array(levels), np.array(doubts)


def holding(at, pressure):
    """A step is a peak of the rise over 40 ms."""
    rise = np.zeros_like(pressure)
    smooth = np.convolve(pressure, np.full(20, 0.05), "same")
    rise[20:-20] = smooth[40:] - smooth[:-40]
    found, _ = find_peaks(rise, height=4e3, prominence=4e3, distance=60)
    return at[found]


def best(work, *what):
    times = []
    while len(times) < PASSES and sum(times) < LONG:
        begun = time.perf_counter()
        made = work(*what)
        times.append(time.perf_counter() - begun)
    return min(times), made


def same(ours, theirs):
    """How many of ours have one of theirs within 20 ms."""
    place = np.searchsorted(theirs, ours)
    near = [
        np.abs(theirs[np.clip(place + k, 0, len(theirs) - 1)] - ours) for k in (-1, 0)
    ]
    return int((np.minimum(*near) <= 0.02).sum())


def with_tops(at, pressure, decoding, own):
    """The same with the tops between the samples."""
    warnings.simplefilter("ignore", OptimizeWarning)
    ways = (("tops by a parabola", by_parabola), ("tops by the same curve", by_curve_fit))
    for what, way in ways:
        seconds, _ = best(way, at, pressure)
        both = decoding + seconds
        print(f"| following | …, {what} | {both:.3f} s | {own:.3f} s | {both / own:.1f} |")


def main():
    folder = pathlib.Path(sys.argv[1])
    print(
        f"{platform.machine()}, {platform.processor() or 'processor not told'}; Python "
        f"{platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}\n"
    )
    print("| rig | what | numpy and scipy | here | ratio |")
    print("| --- | --- | ---: | ---: | ---: |")
    for rig, find in (("following", following), ("holding", holding)):
        raw = (folder / f"{rig}.bin").read_bytes()
        text = (folder / f"{rig}.txt").read_text().split("\n")
        ours = np.array([float(line) for line in text[1:] if line])
        here = [float(word) for word in text[0].split()]
        decoding, (at, pressure) = best(decode, raw)
        finding, theirs = best(find, at, pressure)
        rows = (
            ("decode", decoding, here[0]),
            ("strokes", finding, here[1] - here[0]),
            ("decode and strokes", decoding + finding, here[1]),
        )
        for what, peer, own in rows:
            print(f"| {rig} | {what} | {peer:.3f} s | {own:.3f} s | {peer / own:.1f} |")
        if rig == "following":
            with_tops(at, pressure, decoding, here[1])
        print(f"| {rig} | … and build-up and decision | - | {here[2]:.3f} s | |")
        print(
            f"| {rig} | strokes found | {len(theirs)} | {len(ours)} | "
            f"{same(ours, theirs)} the same |"
        )


main()
