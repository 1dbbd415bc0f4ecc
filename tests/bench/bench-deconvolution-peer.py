# SPDX-License-Identifier: GPL-3.0-or-later
"""The same deconvolution by scipy, in the same run: prints both times and their ratio. Usage: BENCH_DECONVOLUTION"""
import math
import re
import subprocess
import sys
import time

import numpy as np
from scipy import fft

RATE_HZ = 96000


def best_of(run, runs=9):
    times = []
    for _ in range(runs):
        start = time.process_time()
        run()
        times.append(time.process_time() - start)
    return min(times)


def main():
    line = subprocess.run([sys.argv[1]], capture_output=True, text=True, check=False).stdout
    ours_ms = float(re.search(r"deconvolution ([\d.]+) ms", line).group(1))
    growth = round(20 * 10 / math.log(1000)) / 20
    t = np.arange(int(growth * math.log(1000) * RATE_HZ) + 1) / RATE_HZ
    sweep = 0.25 * np.sin(2 * np.pi * 20 * growth * np.exp(t / growth))
    length = fft.next_fast_len(len(sweep) + RATE_HZ, real=True)
    recording = np.concatenate([sweep, np.zeros(RATE_HZ)])
    spectrum = fft.rfft(sweep, length)
    inverse = np.conj(spectrum) / (np.abs(spectrum) ** 2 + 1e-6 * np.max(np.abs(spectrum)) ** 2)
    peer_ms = 1e3 * best_of(lambda: fft.irfft(fft.rfft(recording, length) * inverse, length))
    print(line.strip())
    print(f"scipy {peer_ms:.2f} ms, ratio of ours to it {ours_ms / peer_ms:.3f}")
    return 0 if ours_ms < peer_ms else 1


if __name__ == "__main__":
    sys.exit(main())
