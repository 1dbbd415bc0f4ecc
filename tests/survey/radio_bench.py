# SPDX-License-Identifier: GPL-3.0-or-later
"""A bench for the survey: factory radios of the tests' own making, computed with numpy and scipy in the frequency domain, so that
nothing of the program is in them, and the surveys that the console program makes of them."""
import json
import os
import shutil
import struct
import subprocess
import sys
import tempfile

import numpy as np
from scipy import fft, signal
from scipy.io import wavfile

TRACK_RATE_HZ = 44100
VOLTS_PER_FULL_SCALE = 25.0
TOP_STEP, SURVEY_STEP, QUIET_STEP, STEP_DB = 30, 18, 11, 1.5
PROGRAM = None


def main(module_name):
    import unittest
    global PROGRAM
    sys.modules["radio_bench"].PROGRAM = os.path.abspath(sys.argv.pop(1))
    unittest.main(module=module_name, verbosity=2)


# --- filters: Butterworth, Linkwitz-Riley and peaks by scipy's own design functions ------------------------------------------

def high_pass(hz, order=2):
    return signal.butter(order, hz, "high", fs=TRACK_RATE_HZ, output="sos")


def low_pass(hz, order=2):
    return signal.butter(order, hz, "low", fs=TRACK_RATE_HZ, output="sos")


def twice(sos):
    """Linkwitz-Riley: a Butterworth filter twice (Linkwitz, JAES 24, 1976)."""
    return np.vstack([sos, sos])


def peak(hz, gain_db, q):
    """A peak as a flat path and a resonance beside it: 1 + (G - 1) B, B scipy's iirpeak."""
    b, a = signal.iirpeak(hz, q, fs=TRACK_RATE_HZ)
    gain = 10 ** (gain_db / 20)
    return np.r_[a + (gain - 1) * b, a][None] / a[0]


def all_pass(hz, q):
    """A pair of poles and its mirror image."""
    _, a = signal.iirpeak(hz, q, fs=TRACK_RATE_HZ)
    return np.r_[a[::-1], a][None] / a[0]


def bass_lift(hz, gain_db):
    """A first-order shelf: 1 + (G - 1) times a first-order low-pass."""
    b, a = signal.butter(1, hz, "low", fs=TRACK_RATE_HZ)
    gain = 10 ** (gain_db / 20)
    return np.r_[a + (gain - 1) * b, 0, a, 0][None]


def response(sections, hz):
    z = np.exp(-2j * np.pi * np.asarray(hz) / TRACK_RATE_HZ)
    h = np.ones(len(z), complex)
    for sos in sections:
        for b0, b1, b2, a0, a1, a2 in sos:
            h *= (b0 + z * (b1 + z * b2)) / (a0 + z * (a1 + z * a2))
    return h


class Lead:
    def __init__(self, side, end, band, sections, gain_db=0.0, inverted=False, delay_ms=0.0, all_pass=False, noise_v=2e-4):
        self.side, self.end, self.band, self.sections = side, end, band, sections
        self.gain_db, self.inverted, self.delay_ms, self.all_pass, self.noise_v = gain_db, inverted, delay_ms, all_pass, noise_v


class Radio:
    def __init__(self, leads, player_ppm=0.0, full_scale_v=16.0, rail_v=9.0, lift=None, seat=None, hum_v=0.004):
        self.leads, self.player_ppm, self.full_scale_v, self.rail_v = leads, player_ppm, full_scale_v, rail_v
        self.lift, self.seat, self.hum_v = lift, seat or {}, hum_v  # lift: (hz, dB a step below, step); seat: lead number -> ms
        self._volts = {}

    def filters(self, number, step):
        lead = self.leads[number - 1]
        lifted = max(0, self.lift[2] - step) * self.lift[1] if self.lift else 0
        return lead.sections + ([bass_lift(self.lift[0], lifted)] if lifted else [])

    def delay_ms(self, number, seat="all"):
        return self.leads[number - 1].delay_ms + (self.seat.get(number, 0.0) if seat != "all" else 0.0)

    def volts(self, track, number, step, fader, seat):
        """Volts at a lead at `finer` times the track's rate, from the track's first sample on, and `finer`."""
        key = (track.tobytes()[:4096], len(track), number, step, fader, seat)
        if key in self._volts:
            return self._volts[key]
        lead = self.leads[number - 1]
        finer = 4 if step == TOP_STEP else 2
        faded = (lead.end == "front" and fader == "rear") or (lead.end == "rear" and fader == "front")
        mix = {"left": track[:, 0], "right": track[:, 1], "both": 0.5 * (track[:, 0] + track[:, 1])}[lead.side] * (0.0 if faded else 1.0)
        count = fft.next_fast_len(len(mix) + TRACK_RATE_HZ // 2, real=True)
        hz = fft.rfftfreq(count, 1 / TRACK_RATE_HZ)
        h = response(self.filters(number, step), hz)
        gain = self.full_scale_v * 10 ** ((lead.gain_db + STEP_DB * (step - TOP_STEP)) / 20) * (-1 if lead.inverted else 1)
        spectrum = fft.rfft(mix, count) * h * gain * np.exp(-2j * np.pi * hz * self.delay_ms(number, seat) * 1e-3)
        v = fft.irfft(np.r_[spectrum[:-1], np.zeros(finer * count // 2 + 1 - len(spectrum) + 1)], finer * count) * finer
        v = np.clip(v, -self.rail_v, self.rail_v).astype(np.float32)
        self._volts[key] = (v, finer)
        return v, finer

    def record(self, track, numbers, step=SURVEY_STEP, fader="centre", seat="all", rate_hz=48000, start_s=0.9, after_s=0.6, seed=1, noise_v=None, hum_v=None):
        """What a recorder at rate_hz hears; full scale 1. The player's clock runs player_ppm fast."""
        real_hz = TRACK_RATE_HZ * (1 + self.player_ppm * 1e-6)
        frames = int((start_s + len(track) / real_hz + after_s) * rate_hz)
        rng = np.random.default_rng(seed)
        t = np.arange(frames) / rate_hz
        out = np.empty((frames, len(numbers)))
        for c, number in enumerate(numbers):
            v, finer = self.volts(track, number, step, fader, seat)
            out[:, c] = between(v, (t - start_s) * real_hz * finer)
            out[:, c] += rng.normal(0, self.leads[number - 1].noise_v if noise_v is None else noise_v, frames)
            out[:, c] += (self.hum_v if hum_v is None else hum_v) * (np.sin(2 * np.pi * 50.03 * t + number) + 0.3 * np.sin(2 * np.pi * 150.09 * t))
        coupled = signal.sosfilt(signal.butter(1, 2.0, "high", fs=rate_hz, output="sos"), out, axis=0)
        return coupled / VOLTS_PER_FULL_SCALE

    def truth_db(self, number, hz, step=SURVEY_STEP):
        return 20 * np.log10(np.abs(response(self.filters(number, step), hz)) + 1e-9)

    def truth(self, number, hz, seat="all"):
        lead = self.leads[number - 1]
        gain = self.full_scale_v * 10 ** ((lead.gain_db + STEP_DB * (SURVEY_STEP - TOP_STEP)) / 20) * (-1 if lead.inverted else 1)
        return gain * response(self.filters(number, SURVEY_STEP), hz) * np.exp(-2j * np.pi * hz * self.delay_ms(number, seat) * 1e-3)


def between(v, at, reach=4):
    """v between its samples by Lagrange's polynomial through the nearest 2 * reach; v is oversampled, so that its error is below -90 dB."""
    whole = np.floor(at).astype(np.int64)
    part = at - whole
    padded = np.r_[np.zeros(reach + 1, v.dtype), v, np.zeros(reach + 1, v.dtype)]
    inside = (whole >= -1) & (whole < len(v))
    base, part = whole[inside] + reach + 1, part[inside]
    points = np.arange(-reach + 1, reach + 1)
    total = np.zeros(len(base))
    for k in points:
        weight = np.ones(len(base))
        for m in points:
            if m != k:
                weight *= (part - m) / (k - m)
        total += weight * padded[np.clip(base + k, 0, len(padded) - 1)]
    out = np.zeros(len(at))
    out[inside] = total
    return out


def write_wav(path, x, rate_hz, form="24"):
    """form: 16, 24, 32 or float."""
    x = np.atleast_2d(np.asarray(x).T).T
    if form in ("16", "32", "float"):
        most = {"16": 32767, "32": 2147483647, "float": 1}[form]
        wavfile.write(path, rate_hz, (np.clip(x, -1, 1) * most).astype({"16": np.int16, "32": np.int32, "float": np.float32}[form]))
        return path
    raw = np.clip(np.round(x * 8388607), -8388608, 8388607).astype("<i4").reshape(-1, 1).view(np.uint8).reshape(-1, 4)[:, :3].tobytes()
    with open(path, "wb") as file:
        file.write(b"RIFF" + struct.pack("<I", 36 + len(raw)) + b"WAVEfmt ")
        file.write(struct.pack("<IHHIIHH", 16, 1, x.shape[1], rate_hz, rate_hz * x.shape[1] * 3, x.shape[1] * 3, 24))
        file.write(b"data" + struct.pack("<I", len(raw)) + raw)
    return path


class Bench:
    """A temporary folder with the test tracks in it, in which surveys are made."""

    def __init__(self):
        self.folder = tempfile.mkdtemp(prefix="survey-")
        done = self.run("tracks", self.path("tracks"))
        assert done.returncode == 0, done.stderr
        with open(self.path("tracks/tracks.json"), encoding="utf-8") as file:
            self.index = json.load(file)
        self.takes = {take["id"]: take for take in self.index["takes"]}

    def close(self):
        shutil.rmtree(self.folder, ignore_errors=True)

    def path(self, name):
        return os.path.join(self.folder, name)

    def run(self, *arguments):
        done = subprocess.run([PROGRAM, *map(str, arguments)], cwd=self.folder, capture_output=True, text=True, timeout=3000,
                              env={**os.environ, "LC_ALL": "C.UTF-8"})
        assert done.returncode in (0, 1, 2), f"{arguments} ended with {done.returncode}: {done.stderr}"
        assert "Sanitizer" not in done.stderr and "runtime error" not in done.stderr and "CRITICAL" not in done.stderr, done.stderr
        return done

    def track(self, take):
        rate, x = wavfile.read(self.path("tracks/" + self.takes[take]["track"]))
        assert rate == TRACK_RATE_HZ and x.dtype == np.int16 and x.shape[1] == 2
        return x / 32768.0

    def step(self, take):
        return {"survey": SURVEY_STEP, "loud": TOP_STEP, "quiet": QUIET_STEP}[self.takes[take]["volume"]]

    def record(self, radio, take, numbers, **more):
        """Samples of a take, played as the track index says."""
        return radio.record(self.track(take), numbers, step=self.step(take), fader=self.takes[take]["fader"], **more)

    def listed(self, take, numbers, samples, rate_hz=48000, form="24", seat="all", name=None):
        """Writes a recording and returns its entry in the list of takes."""
        name = name or f"{take}-{seat}-{'-'.join(map(str, numbers))}.wav"
        write_wav(self.path(name), samples, rate_hz, form)
        return {"id": take, "track": self.takes[take]["track"], "recording": name, "leads": list(numbers), "volume_step": self.step(take),
                "balance": self.takes[take]["balance"], "fader": self.takes[take]["fader"], "seat_setting": seat}

    def survey(self, listed, processor=None):
        """What came of a survey: the parsed document, or the error's text where it was refused; and the project's path."""
        intake = {"reference": "bench", "speakers": [{"output": 1, "name": "any", "way": "full", "side": "both", "lowest_hz": 60, "fs_hz": 55}]}
        if processor:
            intake["processor"] = processor
        for name, content in (("intake.json", intake), ("takes.json", {"takes": listed, "volts_per_full_scale": VOLTS_PER_FULL_SCALE})):
            with open(self.path(name), "w", encoding="utf-8") as file:
                json.dump(content, file)
        car = self.path("car.cabin")
        if os.path.exists(car):
            os.remove(car)
        made = self.run("new", car, "intake.json")
        assert made.returncode == 0, made.stderr
        done = self.run("survey", car, "takes.json", "--json")
        return (json.loads(done.stdout) if done.returncode == 0 else done.stderr), car


def codes(survey):
    return [finding["code"] for finding in survey["findings"]]


def refused(survey):
    return [finding["evidence"] for finding in survey["findings"] if finding["code"] == "take-refused"]


def lead_of(survey, number):
    return next(lead for lead in survey["leads"] if lead["lead"] == number)
