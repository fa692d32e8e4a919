"""The work of `cargo bench --bench throughput` by numpy and scipy, on the same bytes.

    cargo bench --bench throughput -- target/peers
    python3 -m venv target/peers/venv
    target/peers/venv/bin/pip install -r tests/benches/peers/requirements.txt
    target/peers/venv/bin/python tests/benches/peers/strokes.py target/peers

One core (OMP_NUM_THREADS=1 has no effect on what is used here). Prints times, ratios, and how
many strokes both found within 20 ms of each other.
"""

import pathlib
import platform
import sys
import time

import numpy as np
import scipy
from scipy.signal import find_peaks

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


def following(at, pressure):
    zero = np.median(pressure[:1000])
    found, _ = find_peaks(pressure, height=zero + 60e3, prominence=60e3, distance=60)
    return at[found]


def holding(at, pressure):
    """A step is a peak of the rise over 40 ms."""
    rise = np.zeros_like(pressure)
    smooth = np.convolve(pressure, np.full(20, 0.05), "same")
    rise[20:-20] = smooth[40:] - smooth[:-40]
    found, _ = find_peaks(rise, height=4e3, prominence=4e3, distance=60)
    return at[found]


def best(work, *what):
    times = []
    for _ in range(3):
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
        print(f"| {rig} | … and build-up and decision | - | {here[2]:.3f} s | |")
        print(
            f"| {rig} | strokes found | {len(theirs)} | {len(ours)} | "
            f"{same(ours, theirs)} the same |"
        )


main()
