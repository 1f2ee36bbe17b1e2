"""Golden values from SciPy: what stands in scipy.json beside this file.

Run by `npm run reference`. Every value comes from a function of SciPy or NumPy, or from quadrature
of the signal as it is written down. The search of a line in a spectrum follows the product's own
choice of block and bins, by other functions. Inputs stand beside the values, so that the test and
generate.m take the same ones.
"""
import datetime
import json
import math
import sys

import numpy as np
import scipy
from scipy import integrate, interpolate, linalg, optimize, signal, special, stats

TAU = 2 * math.pi


def pair(z):
    return [float(np.real(z)), float(np.imag(z))]


def floats(values):
    return [float(value) for value in values]


# --- responses


def butterworth():
    rows = []
    for kind in ["low", "high"]:
        for order in [1, 2, 3, 4]:
            corner_hz = 70.0 * order
            zpk = signal.butter(order, TAU * corner_hz, kind + "pass", analog=True, output="zpk")
            hz = [3.0, 31.0, 79.4, 80.0, 160.0, 500.0, 2000.0]
            _, values = signal.freqs_zpk(*zpk, worN=TAU * np.array(hz))
            rows.append({
                "kind": kind, "order": order, "cornerHz": corner_hz, "hz": hz,
                "values": [pair(one) for one in values],
            })
    return rows


def held_poles(h):
    """Two equal poles of one second each, their input held over h seconds; the newest output."""
    poles = (np.array([[-1.0, 0.0], [1.0, -1.0]]), np.array([[1.0], [0.0]]))
    a, b, *_ = signal.cont2discrete((*poles, np.eye(2), np.zeros((2, 1))), h, method="zoh")
    return a, b, a[1:2, :], b[1:2, :]


def gain_of(h, turns):
    """Gain of poles and triangle together, `turns` cycles of the offset in a cycle."""
    b, a = signal.ss2tf(*held_poles(h))
    _, values = signal.freqz(b[0], a, worN=TAU * np.atleast_1d(turns))
    return np.abs(values) * np.sinc(np.atleast_1d(turns)) ** 2


def tracking_filter():
    rows = []
    for h in [0.01, 0.1, 0.5, 2.0]:
        b, a = signal.ss2tf(*held_poles(h))
        turns = [0.0, 0.02 * h, 0.1 * h, 0.3, 0.5, 0.97, 1.6]
        aliases = np.arange(-400, 401)

        def power(x):
            _, value = signal.freqz(b[0], a, worN=[TAU * x])
            return float(np.abs(value[0]) ** 2 * np.sum(np.sinc(x + aliases) ** 4))

        edges = [0.0, *(h * np.array([0.05, 0.2, 0.6, 2.0])), 0.5]
        edges = sorted({min(one, 0.5) for one in edges})
        noise = 2 * sum(integrate.quad(power, lo, hi, epsabs=1e-13, epsrel=1e-11)[0]
                        for lo, hi in zip(edges, edges[1:]))
        half = optimize.brentq(lambda x: gain_of(h, x)[0] - math.sqrt(0.5), 1e-9, 0.5, xtol=1e-15)
        # The mean delay of an impulse response is its transfer function's slope at rest.
        impulse = signal.dlsim((*held_poles(h), 1.0), np.eye(1, 6000).T)[1][:, 0]
        delay = float(np.sum(np.arange(6000) * impulse))
        rows.append({
            "h": h, "turns": turns, "gains": floats(gain_of(h, turns)),
            "noiseCycles": noise, "widthCycles": 2 * half, "delayCycles": delay,
        })
    return rows


def steps():
    x = [0.01, 0.5, 1.0, 2.0, 5.0, 12.0]
    left = [0.1, 0.05, 0.02, 0.01, 0.001]
    return {
        "x": x, "one": floats(special.gammainc(1, x)), "both": floats(special.gammainc(2, x)),
        "left": left, "after": floats(special.gammainccinv(2, left)),
    }


# --- windows and transforms

LINE = {"length": 3000, "seed": 12345, "cyclesPerSample": 0.0312, "amplitude": 0.25,
        "near": 0.031, "span": 0.1, "falseAlarm": 1e-4}


def line_samples():
    """A tone in noise from a generator of integers, rounded to single precision."""
    state = LINE["seed"]
    noise = []
    for _ in range(LINE["length"]):
        state = (1103515245 * state + 12345) % 2 ** 31
        noise.append(state / 2 ** 30 - 1)
    tone = np.cos(TAU * LINE["cyclesPerSample"] * np.arange(LINE["length"]))
    return (np.array(noise) + LINE["amplitude"] * tone).astype(np.float32).astype(float)


def spectrum_line(x):
    """The strongest line of a stretch: place, power over the noise's, what noise would pass."""
    size = 2 ** math.ceil(math.log2(2 * len(x)))
    power = np.abs(np.fft.rfft((x - x.mean()) * signal.get_window("hann", len(x)), size)) ** 2
    low, high = (LINE["near"] * (1 + sign * LINE["span"]) * size for sign in (-1, 1))
    width = max(64, high - low)
    around = power[max(4, math.floor(low - width)):math.ceil(high + width) + 1]
    noise = np.sort(around)[len(around) // 2] / -stats.expon.logsf(stats.expon.median())
    bins = np.arange(max(1, math.floor(low)), math.ceil(high) + 1)
    best = bins[np.argmax(power[bins])]
    curve = np.polyfit([-1, 0, 1], np.log(power[best - 1:best + 2]), 2)
    needed = stats.gamma.isf(LINE["falseAlarm"] / (2 * len(bins) * len(x) / size), 1)
    return {
        "cyclesPerSample": float(best - curve[1] / (2 * curve[0])) / size,
        "powerRatio": float(power[best] / noise), "powerRatioNeeded": float(needed),
    }


def windows():
    hann = signal.get_window("hann", LINE["length"])
    x = line_samples()
    half = len(x) // 2
    turns = [0.0, 0.1, 0.25, 0.5, 0.75, 1.3, 2.6]
    triangle = [2 * integrate.quad(lambda t, x=one: (1 - t) * math.cos(TAU * x * t), 0, 1,
                                   epsabs=1e-13)[0] for one in turns]
    return {
        "turns": turns, "triangle": floats(triangle), "line": LINE,
        "hannSquares": float(np.mean(hann ** 2)),
        "halves": [spectrum_line(x[:half]), spectrum_line(x[half:])],
        "whole": spectrum_line(x),
    }


def functions():
    x = [0.0, 0.3, 1.0, 4.4, 17.0, 80.0]
    nodes, weights = np.polynomial.legendre.leggauss(12)
    revolutions = [0.0, 0.013, 0.1249, 0.37, 0.5, 0.77, 123.456]
    numbers = [1e-6, 0.3, 1.0, 2.5, 7e5]
    return {
        "x": x,
        "sphericalBessel": [floats(special.spherical_jn(np.arange(9), one)) for one in x],
        "legendreNodes": floats(nodes), "legendreWeights": floats(weights),
        "revolutions": revolutions,
        "sines": floats(np.sin(TAU * (np.array(revolutions) % 1))),
        "numbers": numbers, "logarithms": floats(np.log(numbers)),
        "exponents": [-30.0, -2.5, -1e-3, 0.0, 1.0, 12.0],
        "exponentials": floats(np.exp([-30.0, -2.5, -1e-3, 0.0, 1.0, 12.0])),
    }


# --- a run-up, integrated over the angle and resampled in it

RAMP = {
    "fromRevPerS": 40.0, "revPerS2": 5.0, "durationS": 4.0, "startRev": 0.25,
    "amplitudePk": 1.0, "lagRad": 0.7, "toneHz": 173.0, "tonePk": 2.0, "toneLagRad": 0.3,
    "widthHz": 4.0, "rateHz": 12800, "compareFromS": 2.0,
}


def ramp_time(rev):
    n, a = RAMP["fromRevPerS"], RAMP["revPerS2"]
    top = RAMP["durationS"]
    return optimize.brentq(lambda t: RAMP["startRev"] + n * t + a * t * t / 2 - rev,
                           -0.1, top + 0.1, xtol=1e-15, rtol=4 * np.finfo(float).eps)


def ramp_signal(t):
    rev = RAMP["startRev"] + RAMP["fromRevPerS"] * t + RAMP["revPerS2"] * t * t / 2
    return (RAMP["amplitudePk"] * np.cos(TAU * rev - RAMP["lagRad"])
            + RAMP["tonePk"] * np.cos(TAU * RAMP["toneHz"] * t - RAMP["toneLagRad"]))


def triangle_vector(rev, value, nodes):
    """2·∫ x·(triangle over two revolutions about rev)·e^(−j2πθ) dθ; value(θ) for an array."""
    at, weight = nodes
    sides = [value(rev - 1 + at) * at, value(rev + at) * (1 - at)]
    return 2 * np.sum(weight * (sides[0] + sides[1]) * np.exp(-1j * TAU * at))


def ramp():
    n, a, top = RAMP["fromRevPerS"], RAMP["revPerS2"], RAMP["durationS"]
    x, w = np.polynomial.legendre.leggauss(80)
    nodes = ((x + 1) / 2, w / 2)
    times = np.arange(0, int(top * RAMP["rateHz"]) + 1) / RAMP["rateHz"]
    spline = interpolate.make_interp_spline(times, ramp_signal(times).astype(np.float32), k=5)

    def time_of(rev):
        return np.array([ramp_time(one) for one in rev])

    def at_angle(of):
        return lambda rev: of(time_of(rev))

    tau = math.sqrt(math.sqrt(2) - 1) / (math.pi * RAMP["widthHz"])
    last = math.floor(RAMP["startRev"] + n * top + a * top * top / 2)
    rows, states = [], None
    for middle in range(2, last):
        z = [triangle_vector(middle, at_angle(of), nodes) for of in (ramp_signal, spline)]
        closes = ramp_time(middle + 1)
        h = (closes - ramp_time(middle)) / tau
        step = linalg.expm(h * np.array([[-1.0, 0.0, 1.0], [1.0, -1.0, 0.0], [0.0, 0.0, 0.0]]))
        states = [np.array([one, one, one]) for one in z] if states is None else states
        states = [step @ np.array([old[0], old[1], one]) for old, one in zip(states, z)]
        if closes > RAMP["compareFromS"]:
            rows.append({"closesS": closes, "vector": pair(z[0]), "level": pair(states[0][1]),
                         "resampled": pair(states[1][1])})
    return {**RAMP, "rows": rows}


DWELL = {"revPerS": 47.0, "startRev": 0.25, "middles": [3, 10, 41]}


def dwell():
    """The run-up's signal at a steady speed."""
    x, w = np.polynomial.legendre.leggauss(80)
    start, n = DWELL["startRev"], DWELL["revPerS"]

    def value(rev):
        tone = TAU * RAMP["toneHz"] * (rev - start) / n - RAMP["toneLagRad"]
        order = TAU * rev - RAMP["lagRad"]
        return RAMP["amplitudePk"] * np.cos(order) + RAMP["tonePk"] * np.cos(tone)

    nodes = ((x + 1) / 2, w / 2)
    return {**DWELL, "vectors": [pair(triangle_vector(one, value, nodes))
                                 for one in DWELL["middles"]]}


MOTION = {
    "timeS": [0.0, 1.0, 2.5, 3.0], "revPerS": [10.0, 25.0, 18.0, 30.0], "startRev": 0.3,
    "rippleOrder": 3.0, "rippleRev": 0.002,
}


def motion():
    def mean_rev(t):
        knots = [0.0, *[one for one in MOTION["timeS"] if 0 < one < t], t]
        speed = lambda u: np.interp(u, MOTION["timeS"], MOTION["revPerS"])
        return MOTION["startRev"] + sum(integrate.quad(speed, lo, hi, epsabs=1e-13)[0]
                                        for lo, hi in zip(knots, knots[1:]))

    def angle(t):
        mean = mean_rev(t)
        return mean + MOTION["rippleRev"] * math.sin(TAU * MOTION["rippleOrder"] * mean)

    times = [0.4, 1.0, 1.7, 2.5, 2.9, 4.2]
    revolutions = [1.0, 9.0, 30.0, 52.25, 75.0]
    scale = {"speeds": [0.0, 20.0, 50.0, 100.0], "factors": [1.0, 1.4, 0.7, 2.0]}
    asked = [0.0, 7.0, 20.0, 33.3, 99.0, 140.0]
    return {
        **MOTION, "times": times, "angles": floats(angle(t) for t in times),
        "revolutions": revolutions,
        "reached": floats(optimize.brentq(lambda t: angle(t) - rev, 0, 6, xtol=1e-14)
                          for rev in revolutions),
        "scale": scale, "asked": asked, "scaled": floats(np.interp(asked, *scale.values())),
    }


# --- statistics


def statistics():
    # Duration and display period, s, and how many numbers.
    looks = [[10.0, 0.25, 1], [3600.0, 0.1, 8], [0.2, 0.5, 1]]
    cells = 64
    inner = np.arange(1, cells) / cells
    tail = 3.442619855899
    chances = [1 / (max(1, d / p) * n * 512 * 1e5) for d, p, n in looks]
    area = tail * math.exp(-tail * tail / 2) + math.sqrt(TAU) * float(stats.norm.sf(tail))
    return {
        "looks": looks,
        "factors": floats(stats.rayleigh.isf(chances)),
        "normalEdges": floats(stats.norm.ppf(inner)), "waitEdges": floats(stats.expon.ppf(inner)),
        "chiSquareMost": float(stats.chi2.isf(1e-9, cells - 1)),
        "zigguratTail": tail,
        "zigguratArea": area,
        "rectangular": float(stats.uniform(-1, 2).std()),
    }


# --- a rotor run through its resonance

ROTOR = {"naturalHz": 30.0, "zeta": 0.03, "fromRevPerS": 15.0, "toRevPerS": 50.0, "durationS": 3.5}


def rotor():
    wn, zeta = TAU * ROTOR["naturalHz"], ROTOR["zeta"]
    n = ROTOR["fromRevPerS"]
    a = (ROTOR["toRevPerS"] - n) / ROTOR["durationS"]

    def derivative(t, y):
        rev, speed = n * t + a * t * t / 2, TAU * (n + a * t)
        force = (speed ** 2 - 1j * TAU * a) * np.exp(1j * TAU * rev)
        return [y[1], force - 2 * zeta * wn * y[1] - wn ** 2 * y[0]]

    # At rest in the frame that turns, as large as in the steady state of the first speed.
    speed = TAU * n
    first = speed ** 2 / (wn ** 2 - speed ** 2 + 2j * zeta * wn * speed)
    start = [first, 1j * speed * first]
    times = np.linspace(0.25, ROTOR["durationS"], 14)
    found = integrate.solve_ivp(derivative, (0, ROTOR["durationS"]), np.array(start, complex),
                                "DOP853", times, rtol=1e-12, atol=1e-14)
    turned = np.exp(-1j * TAU * (n * times + a * times ** 2 / 2))
    return {
        **ROTOR, "times": floats(times),
        "displacements": [pair(one) for one in found.y[0] * turned],
        "velocities": [pair(one) for one in found.y[1] * turned],
    }


def main():
    values = {
        "made": datetime.date.today().isoformat(),
        "by": {"python": sys.version.split()[0], "numpy": np.__version__,
               "scipy": scipy.__version__},
        "butterworth": butterworth(), "trackingFilter": tracking_filter(), "steps": steps(),
        "windows": windows(), "functions": functions(), "ramp": ramp(), "dwell": dwell(),
        "motion": motion(),
        "statistics": statistics(), "rotor": rotor(),
    }
    with open(sys.argv[1], "w", encoding="utf-8") as file:
        json.dump(values, file, indent=1)


main()
