"""How much faster than a general-purpose solver the simulator is at equal error.

The equations of the case "holding" of fixtures/simulate (one cylinder at 200 rpm, hose behind a
check valve, 12 turns), solved with SciPy's solve_ivp: the right-hand side in plain Python, and
compiled by numba. Error: largest deviation of a peak, in cylinder or hose, from the kept fixture.

    pip install -r tests/benches/peers/requirements.txt
    cargo bench --bench simulate -- holding        # prints our error and times real time
    python tests/benches/peers/simulator.py --ours TIMES_REAL_TIME --error PERCENT
"""

import argparse
import json
import pathlib
import platform
import time
from math import cos, pi, sin, sqrt

import numba
import numpy as np
import scipy
from scipy.integrate import solve_ivp

AMBIENT, COLD, R = 101325.0, 293.15, 8.31446261815324 / (
    0.78 * 28.0134e-3 + 0.21 * 31.9988e-3 + 0.01 * 39.948e-3
)
# cp/R of air from 200 K to 1000 K, NASA TM-4513, 78 % N2, 21 % O2, 1 % Ar.
N2 = (3.53100528, -1.23660987e-4, -5.02999437e-7, 2.43530612e-9, -1.40881235e-12)
O2 = (3.78245636, -2.99673415e-3, 9.847302e-6, -9.68129508e-9, 3.24372836e-12)
A0, A1, A2, A3, A4 = (
    0.78 * n + 0.21 * o + 0.01 * a for n, o, a in zip(N2, O2, (2.5, 0.0, 0.0, 0.0, 0.0))
)
BORE, THROW, ROD, RATIO, RPM, TURNS = 0.090, 0.047, 0.160, 9.0, 200.0, 12.0
PISTON = pi / 4 * BORE**2
CLEARANCE = PISTON * 2 * THROW / (RATIO - 1) + 1.2e-6
HOSE, OMEGA = 15e-6, RPM * 2 * pi / 60
MEAN_SPEED = 4 * THROW * RPM / 60


@numba.njit
def cp(t):
    return R * (A0 + t * (A1 + t * (A2 + t * (A3 + t * A4))))


@numba.njit
def enthalpy(t):
    return R * t * (A0 + t * (A1 / 2 + t * (A2 / 3 + t * (A3 / 4 + t * A4 / 5))))


@numba.njit
def flow(area, p_up, t_up, p_down):
    gamma = cp(t_up) / (cp(t_up) - R)
    ratio = max(p_down / p_up, (2 / (gamma + 1)) ** (gamma / (gamma - 1)))
    edge = min(ratio, 1 - 1e-5)
    psi = sqrt(2 * gamma / (gamma - 1) * (edge ** (2 / gamma) - edge ** ((gamma + 1) / gamma)))
    if ratio > edge:
        psi *= (1 - ratio) / 1e-5
    return area * p_up * psi / sqrt(R * t_up)


@numba.njit
def lift(angle, opens, closes, area):
    into = (angle * 180 / pi - opens) % 720.0
    span = closes - opens
    return area * sin(pi * into / span) ** 2 if into < span else 0.0


@numba.njit
def piston(angle):
    root = sqrt(ROD**2 - (THROW * sin(angle)) ** 2)
    travel = THROW + ROD - THROW * cos(angle) - root
    slope = THROW * sin(angle) + THROW**2 * sin(angle) * cos(angle) / root
    return CLEARANCE + PISTON * travel, PISTON * slope


@numba.njit
def rates(time, y):
    """Mass and temperature of cylinder and hose."""
    angle = OMEGA * time
    v, dv = piston(angle)
    m, t, mh, th = y
    p, ph = m * R * t / v, mh * R * th / HOSE
    inlet = lift(angle, 350.0, 590.0, 560e-6)
    inlet = inlet * 480e-6 / sqrt(inlet**2 + 480e-6**2)
    open_air = (inlet, lift(angle, 135.0, 372.0, 480e-6), 0.3e-6)
    dm = de = dmh = deh = 0.0
    for area in open_air:
        if area > 0 and p > AMBIENT:
            w = flow(area, p, t, AMBIENT)
            dm -= w
            de -= w * enthalpy(t)
        elif area > 0 and p < AMBIENT:
            w = flow(area, AMBIENT, COLD, p)
            dm += w
            de += w * enthalpy(COLD)
    area = 8e-6 * min(max((p - ph - 12e3) / 6e3, 0.0), 1.0)
    if area > 0:
        w = flow(area, p, t, ph)
        dm -= w
        de -= w * enthalpy(t)
        dmh += w
        deh += w * enthalpy(t)
    # Hohenberg, SAE 790825
    h = 130 * v**-0.06 * (p / 1e5) ** 0.8 * t**-0.4 * (MEAN_SPEED + 1.4) ** 0.8
    de -= h * (2 * PISTON + pi * BORE * v / PISTON) * (t - COLD) + p * dv * OMEGA
    deh -= 3.0 * (th - COLD)
    return np.array(
        (
            dm,
            (de - (enthalpy(t) - R * t) * dm) / (m * (cp(t) - R)),
            dmh,
            (deh - (enthalpy(th) - R * th) * dmh) / (mh * (cp(th) - R)),
        )
    )


def wanted():
    file = pathlib.Path(__file__).parents[3] / "fixtures/simulate/strokes.json"
    return np.array(json.loads(file.read_text())["gauge_peaks_pa"]["holding"])[1:]


def solve(method, rtol, rhs):
    """Seconds taken (best of three), calls, and largest error of a peak (share)."""
    end = TURNS * 2 * pi / OMEGA
    start = [AMBIENT * piston(0.0)[0] / (R * COLD), COLD, AMBIENT * HOSE / (R * COLD), COLD]
    best = np.inf
    for _ in range(3):
        begun = time.perf_counter()
        # Without a limit a step leaps over a whole stroke.
        sol = solve_ivp(
            rhs, (0, end), start, method=method, rtol=rtol, atol=1e-12, max_step=5e-3
        )
        best = min(best, time.perf_counter() - begun)
    assert sol.success, sol.message
    # Peaks between the solver's own steps by a parabola through the three highest points.
    angle = OMEGA * sol.t
    volume = np.array([piston(a)[0] for a in angle])
    cylinder = sol.y[0] * R * sol.y[1] / volume - AMBIENT
    hose = sol.y[2] * R * sol.y[3] / HOSE - AMBIENT
    cycles = np.floor(angle / (4 * pi) + 0.5)
    found = [
        [peak(sol.t[cycles == c], q[cycles == c]) for q in (cylinder, hose)]
        for c in np.unique(cycles)[1:]
    ]
    truth = wanted()
    count = min(len(found), len(truth) - 1)  # the last one is cut off
    error = np.max(np.abs(np.array(found[:count]) / truth[:count] - 1))
    return best, sol.nfev, error


def peak(t, p):
    k = int(np.argmax(p))
    if not 0 < k < len(p) - 1:
        return p[k]
    a, b, c = np.polyfit(t[k - 1 : k + 2] - t[k], p[k - 1 : k + 2], 2)
    return max(p[k], c - b * b / (4 * a)) if a < 0 else p[k]


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--ours", type=float, required=True, help="times real time")
    parser.add_argument("--error", type=float, required=True, help="our error in percent")
    given = parser.parse_args()
    print(f"Python {platform.python_version()}, SciPy {scipy.__version__}, ", end="")
    print(f"NumPy {np.__version__}, numba {numba.__version__}, {platform.machine()}\n")
    rates(0.0, np.array([1e-3, 300.0, 1e-5, 300.0]))  # compiles
    seconds = TURNS * 60 / RPM
    print("| right-hand side | method | rtol | error | calls | x real time | ours is faster by |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    for name, rhs in (("numba", rates), ("Python", rates.py_func)):
        for method in ("LSODA", "BDF", "Radau", "RK45"):
            for rtol in (1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-7):
                taken, calls, error = solve(method, rtol, rhs)
                if 100 * error <= given.error or rtol == 1e-7:
                    times = seconds / taken
                    print(
                        f"| {name} | {method} | {rtol:g} | {100 * error:.4f} % | {calls} "
                        f"| {times:.1f} | {given.ours / times:.0f} |",
                        flush=True,
                    )
                    break


if __name__ == "__main__":
    main()
