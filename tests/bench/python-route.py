"""The level of each order as an engineer would track it with NumPy and SciPy, vectorised.

Reads JSON from standard input: rate_hz, edges_s, orders, bandwidth_hz, channels, samples (a file of
f32, one channel after another), truth_pk (of order 1), rounds. Writes JSON: for each route the
seconds of each round, the worst error of order 1 in % of the truth over the second half, and a hash.

cycles    the angle between edges by interpolation, the heterodyned signal summed and the sum
          interpolated at each revolution's ends, two poles at the rate of the revolutions
decimated the same heterodyne, a low-pass FIR and decimation, two poles at the low rate
"""

import hashlib
import json
import sys
import time

import numpy as np
from scipy.signal import firwin, lfilter, upfirdn

DECIMATION = 64
TAPS = 1025


def angle(count, rate_hz, edges_s):
    return np.interp(np.arange(count) / rate_hz, edges_s, np.arange(len(edges_s), dtype=float))


def two_poles(values, step_s, bandwidth_hz):
    tau_s = np.sqrt(np.sqrt(2) - 1) / (np.pi * bandwidth_hz)
    beta = np.exp(-step_s / tau_s)
    first = values[..., :1]
    gain = [(1 - beta) ** 2]
    return lfilter(gain, [1, -2 * beta, beta * beta], values - first) + first


def cycles(x, rate_hz, edges_s, orders, bandwidth_hz):
    count = x.shape[1]
    rev = angle(count, rate_hz, edges_s)
    ends = edges_s * rate_hz
    grid = np.arange(count + 1) - 0.5
    spans = np.diff(ends)
    out = []
    for order in orders:
        carrier = np.exp(-2j * np.pi * order * rev)
        for channel in x:
            total = np.zeros(count + 1, complex)
            np.cumsum(carrier * channel, out=total[1:])
            at = np.interp(ends, grid, total.real) + 1j * np.interp(ends, grid, total.imag)
            out.append(two_poles(2 * np.diff(at) / spans, spans.mean() / rate_hz, bandwidth_hz))
    return np.abs(np.array(out))


def decimated(x, rate_hz, edges_s, orders, bandwidth_hz):
    count = x.shape[1]
    rev = angle(count, rate_hz, edges_s).astype(np.float64)
    taps = firwin(TAPS, rate_hz / DECIMATION / 4, fs=rate_hz).astype(np.float32)
    out = []
    for order in orders:
        turn = (2 * np.pi * ((order * rev) % 1)).astype(np.float32)
        carrier = np.empty(count, np.complex64)
        carrier.real = np.cos(turn)
        carrier.imag = -np.sin(turn)
        for channel in x:
            low = upfirdn(taps, carrier * channel, 1, DECIMATION)[TAPS // DECIMATION :]
            out.append(two_poles(2 * low, DECIMATION / rate_hz, bandwidth_hz))
    return np.abs(np.array(out))


def main():
    wish = json.load(sys.stdin)
    x = np.fromfile(wish["samples"], np.float32).reshape(wish["channels"], -1)
    edges_s = np.array(wish["edges_s"])
    told = {}
    for name, route in (("cycles", cycles), ("decimated", decimated)):
        seconds = []
        for _ in range(wish["rounds"]):
            before = time.process_time()
            levels = route(x, wish["rate_hz"], edges_s, wish["orders"], wish["bandwidth_hz"])
            seconds.append(time.process_time() - before)
        late = levels[0, levels.shape[1] // 2 : -8]
        error = float(np.max(np.abs(late / wish["truth_pk"] - 1))) * 100
        digest = hashlib.sha256(np.ascontiguousarray(levels).tobytes()).hexdigest()[:16]
        told[name] = {"seconds": seconds, "error_percent": error, "hash": digest}
    json.dump(told, sys.stdout)


main()
