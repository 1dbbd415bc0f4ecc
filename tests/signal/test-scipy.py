# SPDX-License-Identifier: GPL-3.0-or-later
"""Compares the responses of all kinds of section and all crossover families with scipy's, for random parameters.

Usage: test-scipy.py PRINT_RESPONSES [SEED]. Crossovers are designed by scipy.signal.butter and bessel; the sections' analogue
prototypes (W3C Audio EQ Cookbook) are taken to the unit circle by the bilinear transform in scipy's own variables.
"""
import math
import random
import subprocess
import sys

import numpy as np
from scipy import signal

TOLERANCE = 1e-9
RATES_HZ = (44100, 48000, 96000)
COUNT = 25
ROUNDS = 60


def prototype(kind, gain_db, q):
    """Numerator and denominator in s / corner."""
    a = 10 ** (gain_db / 40)
    root = math.sqrt(a) / q
    return {
        "peaking": ([1, a / q, 1], [1, 1 / (a * q), 1]),
        "low-shelf": ([a, a * root, a * a], [a, root, 1]),
        "high-shelf": ([a * a, a * root, a], [1, root, a]),
        "notch": ([1, 0, 1], [1, 1 / q, 1]),
        "all-pass-first": ([-1, 1], [1, 1]),
        "all-pass": ([1, -1 / q, 1], [1, 1 / q, 1]),
        "low-pass-first": ([1], [1, 1]),
        "high-pass-first": ([1, 0], [1, 1]),
        "low-pass": ([1], [1, 1 / q, 1]),
        "high-pass": ([1, 0, 0], [1, 1 / q, 1]),
        "band-pass": ([1 / q, 0], [1, 1 / q, 1]),
    }[kind]


KINDS = ("peaking", "low-shelf", "high-shelf", "notch", "all-pass-first", "all-pass", "low-pass-first", "high-pass-first",
         "low-pass", "high-pass", "band-pass")
FAMILIES = ("butterworth", "linkwitz-riley", "bessel", "bessel-phase", "bessel-delay")
NORMS = {"bessel": "mag", "bessel-phase": "phase", "bessel-delay": "delay"}


def crossover(family, kind, order, corner_hz, rate_hz, hz):
    if family == "butterworth":
        sos = signal.butter(order, corner_hz, kind, fs=rate_hz, output="sos")
    elif family == "linkwitz-riley":
        half = signal.butter(order // 2, corner_hz, kind, fs=rate_hz, output="sos")
        sos = np.concatenate([half, half])
    else:
        sos = signal.bessel(order, corner_hz, kind, fs=rate_hz, output="sos", norm=NORMS[family])
    return signal.sosfreqz(sos, hz, fs=rate_hz)[1]


def random_corner_hz(rng, rate_hz, high_hz, q):
    """Log-spaced from 20 Hz, or from where double coefficients can hold the tolerance: near 0 Hz a section's denominator is about
    (2 pi corner / rate)^2 / q while its coefficients, near 2, are rounded to 4e-16."""
    low_hz = max(20, rate_hz / (2 * math.pi) * math.sqrt(q * 1e-6))
    return low_hz * (high_hz / low_hz) ** rng.random()


def random_hz(rng, rate_hz):
    return np.array(sorted(20 * (0.9 * rate_hz / 2 / 20) ** rng.random() for _ in range(COUNT)))


def cases(rng):
    """Yields the request's words, its frequencies and the expected response."""
    for _ in range(ROUNDS):
        for kind in KINDS:
            rate_hz = rng.choice(RATES_HZ)
            gain_db = rng.uniform(-18, 18)
            q = 0.3 * (12 / 0.3) ** rng.random()
            corner_hz = random_corner_hz(rng, rate_hz, 20000, q)
            hz = random_hz(rng, rate_hz)
            numerator, denominator = prototype(kind, gain_db, q)
            _, expected = signal.freqs(numerator, denominator, np.tan(np.pi * hz / rate_hz) / math.tan(math.pi * corner_hz / rate_hz))
            yield ("section", kind, corner_hz, gain_db, q, rate_hz), hz, expected
        for family in FAMILIES:
            rate_hz = rng.choice(RATES_HZ)
            corner_hz = random_corner_hz(rng, rate_hz, 18000, 1)
            order = rng.choice((2, 4, 6, 8)) if family == "linkwitz-riley" else rng.randint(1, 8)
            kind = rng.choice(("low", "high"))
            hz = random_hz(rng, rate_hz)
            yield ("crossover", family, kind, order, corner_hz, rate_hz), hz, crossover(family, kind, order, corner_hz, rate_hz, hz)


def main():
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else random.SystemRandom().randrange(10**9)
    print(f"seed {seed}")
    wanted = list(cases(random.Random(seed)))
    request = "\n".join(" ".join(repr(word) if isinstance(word, float) else str(word) for word in words) + f" {COUNT} " +
                        " ".join(repr(float(x)) for x in hz) for words, hz, _ in wanted)
    answer = subprocess.run([sys.argv[1]], input=request, capture_output=True, text=True, check=True).stdout.splitlines()
    assert len(answer) == len(wanted), f"{len(answer)} answers to {len(wanted)} requests"
    worst, failures = 0, 0
    for line, (words, _, expected) in zip(answer, wanted):
        numbers = np.array(line.split(), dtype=float)
        error = np.max(np.abs(numbers[0::2] + 1j * numbers[1::2] - expected) / np.maximum(1, np.abs(expected)))
        worst = max(worst, error)
        if not error <= TOLERANCE:
            print("off by", error, *words)
            failures += 1
    print(f"{len(wanted)} filters, worst {worst:.2e}")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
