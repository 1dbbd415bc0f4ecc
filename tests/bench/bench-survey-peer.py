# SPDX-License-Identifier: GPL-3.0-or-later
"""Times the survey of a simulated radio of seven leads beside the plain numpy and scipy way to the same figures, in one run: clock from two markers by
correlation, resampling by splines, responses by dividing spectra, minimum phase by the cepstrum, delay where the excess phase adds up. Prints the ratios
of time and error; fails where the survey takes more than a twentieth of the recordings' length or is not ahead of the peer."""
import os
import resource
import sys
import time

import numpy as np
from scipy import fft, ndimage, signal

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "survey"))
import radio_bench as bench  # noqa: E402
from radio_bench import Lead, Radio, all_pass, high_pass, low_pass, peak  # noqa: E402

RATE_HZ = 48000
POINTS_HZ = 20 * 2 ** (np.arange(120) / 12)


def seven_leads():
    leads = []
    for side, off in (("left", 1.0), ("right", 1.08)):
        leads += [Lead(side, "front", "high", [high_pass(3400, 4), peak(8000 * off, 2.5, 1.6)], gain_db=1.5),
                  Lead(side, "front", "low", [high_pass(45), low_pass(3400, 4), peak(650 * off, -3.1, 1.4)], inverted=True, delay_ms=0.24),
                  Lead(side, "rear", "full", [high_pass(70), peak(1900 * off, 3.3, 1.2)] + ([all_pass(1050, 0.9)] if side == "right" else []), delay_ms=7.31,
                       all_pass=side == "right")]
    leads.append(Lead("both", "front", "mid", [high_pass(240), peak(1300, 3, 1.5)], gain_db=-4, delay_ms=0.7))
    return Radio(leads, player_ppm=-71.3)


def marker_places(x, marker):
    """Where the marker stands, in samples with a parabola between: the three clearest."""
    envelope = np.abs(signal.hilbert(signal.fftconvolve(x, marker[::-1], "valid")))
    places = []
    for _ in range(3):
        top = int(np.argmax(envelope))
        before, at, after = envelope[top - 1:top + 2]
        places.append(top + 0.5 * (before - after) / (before - 2 * at + after))
        envelope[max(0, top - RATE_HZ // 2):top + RATE_HZ // 2] = 0
    return np.sort(places)


def minimum_phase(magnitude):
    """Phase of the minimum-phase response with a one-sided magnitude, by the real cepstrum."""
    log_magnitude = np.log(np.maximum(magnitude, magnitude.max() * 1e-4))
    cepstrum = fft.irfft(log_magnitude)
    half = len(cepstrum) // 2
    cepstrum[1:half] *= 2
    cepstrum[half + 1:] = 0
    return np.imag(fft.rfft(cepstrum))


def peer_lead(x, track, ratio, start):
    """Response in dB at the points, delay in seconds after the track, and polarity."""
    at = start + np.arange(len(track)) * ratio
    heard = ndimage.map_coordinates(x, [at], order=5, mode="constant")
    count = fft.next_fast_len(len(track), real=True)
    hz = fft.rfftfreq(count, 1 / bench.TRACK_RATE_HZ)
    drive = fft.rfft(track, count)
    impulse = fft.irfft(fft.rfft(heard, count) * np.conj(drive) / (np.abs(drive) ** 2 + 1e-6 * np.abs(drive).max() ** 2), count)
    window = 1 << 16
    cut = np.roll(impulse, window // 8)[:window] * signal.windows.tukey(window, 0.2)
    response = fft.rfft(cut)
    hz = fft.rfftfreq(window, 1 / bench.TRACK_RATE_HZ)
    power = np.abs(response) ** 2
    db = np.array([10 * np.log10(power[np.abs(np.log2(np.maximum(hz, 1) / f)) <= 1 / 24].mean() if f > 40 else np.interp(f, hz, power)) for f in POINTS_HZ])
    excess = response * np.exp(2j * np.pi * hz * (window // 8) / bench.TRACK_RATE_HZ) * np.exp(-1j * minimum_phase(np.abs(response)))
    band = (hz > 30) & (hz < 18000) & (np.abs(response) > 0.1 * np.abs(response).max())
    turn = (excess / np.maximum(np.abs(excess), 1e-30))[band][::7]
    delays = np.arange(-0.002, 0.016, 5e-6)
    sums = np.array([np.real(np.sum(turn * np.exp(2j * np.pi * hz[band][::7] * d))) for d in delays])
    best = int(np.argmax(np.abs(sums)))
    return db, delays[best], np.sign(sums[best])


def peer(samples, track):
    marker = track[int(0.4 * bench.TRACK_RATE_HZ):int(0.7 * bench.TRACK_RATE_HZ), 0]
    resampled = signal.resample_poly(marker, 160, 147)
    nominal = marker_places(signal.resample_poly(track[:, 0] + track[:, 1], 160, 147), resampled)
    loudest = int(np.argmax(np.sum(np.diff(samples, axis=0) ** 2, axis=0)))
    places = marker_places(samples[:, loudest], resampled)
    scale = (places[2] - places[0]) / (nominal[2] - nominal[0])
    ratio = scale * RATE_HZ / bench.TRACK_RATE_HZ
    start = places[0] - nominal[0] * scale
    left, right, results = track[:, 0].copy(), track[:, 1].copy(), []
    half = int(0.5 * (nominal[1] / RATE_HZ) * bench.TRACK_RATE_HZ) * 2
    left[half:], right[:half] = 0, 0
    for c in range(samples.shape[1]):
        both = [peer_lead(samples[:, c], one, ratio, start) for one in (left, right)]
        results.append(max(both, key=lambda r: r[0].max()))
    return (1 / scale - 1) * 1e6, results


def errors(radio, ppm, found):
    """Clock error, worst delay error, worst response error within 20 dB of the top, polarities wrong."""
    delay = np.array([f[1] for f in found]) * 1e3
    truth = np.array([radio.delay_ms(n) for n in range(1, len(radio.leads) + 1)])
    delay_us = 1e3 * np.abs((delay - delay.min()) - (truth - truth.min())).max()
    worst = 0.0
    for n, (db, _, _) in enumerate(found, 1):
        wanted = radio.truth_db(n, POINTS_HZ)
        near = (wanted > wanted.max() - 20) & (POINTS_HZ > 25) & (POINTS_HZ < 18000) & np.isfinite(db)
        apart = db[near] - wanted[near]
        worst = max(worst, np.abs(apart - np.median(apart)).max())
    wrong = sum((f[2] < 0) != radio.leads[n].inverted for n, f in enumerate(found))
    return abs(ppm - radio.player_ppm), delay_us, worst, wrong


def main():
    bench.PROGRAM = os.path.abspath(sys.argv[1])
    desk, radio = bench.Bench(), seven_leads()
    numbers = list(range(1, 8))
    listed, seconds, leads = [], 0.0, None
    for seed, take in enumerate(("leads", "front", "rear", "quiet", "loud")):
        samples = desk.record(radio, take, numbers, seed=seed)
        leads = samples if leads is None else leads
        seconds += len(samples) / RATE_HZ
        listed.append(desk.listed(take, numbers, samples))
    desk.survey(listed[:1])  # warm the disk's cache
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    survey, _ = desk.survey(listed)
    own_s = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before
    started = time.process_time()
    ppm, found = peer(leads, desk.track("leads"))
    peer_s = time.process_time() - started
    own = [(np.array([np.nan if db is None else db for _, db in lead["response"]]), lead["delay_ms"] * 1e-3, -1 if lead["polarity"] == "inverted" else 1)
           for lead in survey["leads"]]
    mine, other = errors(radio, survey["player_ppm"], own), errors(radio, ppm, found)
    desk.close()
    print(f"recordings {seconds:.1f} s; survey of all five takes {own_s:.2f} s of computing, 1/{seconds / own_s:.0f}; peer, of the first take alone, {peer_s:.2f} s:"
          f" {peer_s / own_s:.1f} times as long")
    for name, a, b in zip(("clock, ppm", "delay, us", "response, dB", "polarities wrong"), mine, other):
        print(f"{name}: survey {a:.3f}, peer {b:.3f}")
    assert own_s < seconds / 20, "more than a twentieth of the recordings' length"
    assert all(a <= b + 1e-3 for a, b in zip(mine, other)), "not ahead of the peer"


if __name__ == "__main__":
    main()
