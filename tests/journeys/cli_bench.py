# SPDX-License-Identifier: GPL-3.0-or-later
"""A bench for journeys through the console program: runs verbs in a folder of their own, and holds a simulated car whose
truth is known: speakers as second-order band-passes with a delay and reflections, so that nothing of the program's own
signal code is in it."""
import hashlib
import json
import math
import os
import shutil
import struct
import subprocess
import sys
import tempfile
import wave

import numpy as np
from scipy import signal

PROGRAM = None  # set by main()
RATE_HZ = 48000
SPL_AT_FULL_SCALE = 124.0


def main(module_name):
    """Takes the program from the command line and runs the module's unittest cases."""
    import unittest
    global PROGRAM
    sys.modules["cli_bench"].PROGRAM = os.path.abspath(sys.argv.pop(1))
    unittest.main(module=module_name, verbosity=2)


class Bench:
    """A temporary folder in which verbs are run."""

    def __init__(self):
        self.folder = tempfile.mkdtemp(prefix="journey-")

    def close(self):
        shutil.rmtree(self.folder, ignore_errors=True)

    def path(self, name):
        return os.path.join(self.folder, name)

    def write(self, name, content):
        with open(self.path(name), "wb") as file:
            file.write(content.encode() if isinstance(content, str) else content)
        return self.path(name)

    def run(self, *arguments, environment=None, **more):
        """Runs a verb and returns what came of it; a crash or a checker's report is never a result."""
        done = subprocess.run([PROGRAM, *map(str, arguments)], cwd=self.folder, capture_output=True, timeout=3000,
                              env={**os.environ, "LC_ALL": "C.UTF-8", **(environment or {})}, **more)
        said = done.stderr.decode(errors="replace")
        assert done.returncode in (0, 1, 2), f"{arguments} ended with {done.returncode}: {said}"
        assert "Sanitizer" not in said and "runtime error" not in said, said
        assert "CRITICAL" not in said and "WARNING" not in said, said
        return done

    def do(self, *arguments, **more):
        """Runs a verb that must succeed; returns its standard output."""
        done = self.run(*arguments, **more)
        assert done.returncode == 0, f"{arguments}: {done.stderr.decode(errors='replace')}"
        return done.stdout.decode()

    def ask(self, *arguments, **more):
        """The same with --json, as Python's own reader takes it."""
        return json.loads(self.do(*arguments, "--json", **more), parse_constant=refuse_constant)

    def contents(self):
        """What is in the folder, by name and checksum."""
        found = {}
        for root, folders, files in os.walk(self.folder):
            for name in folders:
                found[os.path.relpath(os.path.join(root, name), self.folder)] = "folder"
            for name in files:
                with open(os.path.join(root, name), "rb") as file:
                    found[os.path.relpath(os.path.join(root, name), self.folder)] = hashlib.sha256(file.read()).hexdigest()
        return found

    def fails(self, *arguments, naming=(), code=1, **more):
        """Runs a verb that must fail: with one line that names what it should, with nothing on standard output (but for
        check, whose result is what is wrong), and with every file as it was before. Returns the line."""
        before = self.contents()
        done = self.run(*arguments, **more)
        said = done.stderr.decode(errors="replace")
        assert done.returncode == code, f"{arguments} ended with {done.returncode}, not {code}: {said}"
        assert done.stdout == b"" or arguments[0] == "check", f"{arguments} printed {done.stdout!r}"
        assert said.endswith("\n") and said.count("\n") == 1 and said.strip(), f"{arguments} said {said!r}"
        for word in naming:
            assert str(word) in said, f"{arguments} said {said!r}, without {word!r}"
        after = self.contents()
        assert before == after, f"{arguments} changed {set(before.items()) ^ set(after.items())}"
        return said


def refuse_constant(name):
    raise ValueError(f"{name} is not JSON")


def write_wav(path, channels, rate_hz=RATE_HZ):
    """24-bit samples, a list of arrays of full scale 1."""
    frames = np.clip(np.round(np.array(channels).T * 8388607), -8388608, 8388607).astype("<i4")
    raw = frames.reshape(-1, 1).view(np.uint8).reshape(-1, 4)[:, :3].tobytes()
    with wave.open(path, "wb") as file:
        file.setnchannels(len(channels))
        file.setsampwidth(3)
        file.setframerate(rate_hz)
        file.writeframes(raw)
    return path


def read_wav(path):
    """(rate, array of channels) of a 16- or 24-bit file, by Python's own reader."""
    with wave.open(path, "rb") as file:
        width, count = file.getsampwidth(), file.getnchannels()
        raw = np.frombuffer(file.readframes(file.getnframes()), np.uint8).reshape(-1, width)
        padded = np.zeros((len(raw), 4), np.uint8)
        padded[:, 4 - width:] = raw
        return file.getframerate(), padded.view("<i4").reshape(-1, count).T / 2147483648.0


class Speaker:
    """One speaker of the simulated car: what reaches each place from it."""

    def __init__(self, output, name, way, side, low_hz, high_hz, arrival_ms, level_db, inverted=False):
        self.output, self.name, self.way, self.side = output, name, way, side
        self.low_hz, self.high_hz, self.arrival_ms, self.level_db, self.inverted = low_hz, high_hz, arrival_ms, level_db, inverted

    def impulse(self, place, frames=8192, moved=0.0):
        """Sound pressure for a full-scale sample at a place (from 0), in units of the recorder's full scale. moved: samples by
        which every path may have changed, because nobody puts a microphone twice into the same place."""
        random = np.random.default_rng(100 * self.output + place)
        delays = self.delay_samples(place) + np.concatenate([[0], random.uniform(60, 900, 5)])
        gains = np.concatenate([[1], random.uniform(-0.12, 0.12, 5)])
        delays = delays + moved * random.uniform(-1, 1, 6)
        hz = np.fft.rfftfreq(frames, 1 / RATE_HZ)
        spectrum = sum(gain * np.exp(-2j * np.pi * hz * delay / RATE_HZ) for gain, delay in zip(gains, delays))
        out = np.fft.irfft(spectrum, frames)
        out = signal.sosfilt(signal.butter(2, self.low_hz, "highpass", fs=RATE_HZ, output="sos"), out)
        if self.high_hz:
            out = signal.sosfilt(signal.butter(2, self.high_hz, "lowpass", fs=RATE_HZ, output="sos"), out)
        return out * 10 ** ((self.level_db - SPL_AT_FULL_SCALE) / 20) * (-1 if self.inverted else 1)

    def delay_samples(self, place):
        return 1e-3 * self.arrival_ms * RATE_HZ + 3.7 * place * (1 if self.side == "left" else -1)


CAR = [
    Speaker(1, "left high", "high", "left", 900, None, 3.1, 102),
    Speaker(2, "right high", "high", "right", 950, None, 4.4, 101),
    Speaker(3, "left low", "low", "left", 60, 5000, 3.4, 103),
    Speaker(4, "right low", "low", "right", 63, 5200, 4.9, 102, inverted=True),
    Speaker(5, "bass, =1+1", "sub", "both", 25, 400, 6.0, 104),
]

MICROPHONE_DB = [[20, 1.0], [200, 0.0], [2000, 0.0], [20000, -3.0]]


def microphone_gain(hz):
    points = np.array(MICROPHONE_DB)
    return 10 ** (np.interp(np.log(np.maximum(hz, 1)), np.log(points[:, 0]), points[:, 1]) / 20)


def record(feed, speaker, place, seed=1, latency_samples=240, moved=0.0):
    """What microphone and loopback record of a feed through a speaker."""
    frames = len(feed) + 16384
    size = 1 << (frames - 1).bit_length()
    hz = np.fft.rfftfreq(size, 1 / RATE_HZ)
    heard = np.fft.irfft(np.fft.rfft(feed, size) * np.fft.rfft(speaker.impulse(place, moved=moved), size) * microphone_gain(hz), size)[:frames]
    random = np.random.default_rng(1000 * seed + 10 * speaker.output + place)
    late = lambda samples: np.concatenate([np.zeros(latency_samples), samples])[:frames]
    loop = np.concatenate([feed, np.zeros(frames - len(feed))])
    return [late(heard) + 3e-6 * random.standard_normal(frames), 0.5 * late(loop)]


def record_through(table, feed, side, place, seed=7, latency_samples=240, moved=0.0):
    """What is recorded when a processor with a table in it plays a feed into its left input, its right one, or both."""
    frames = len(feed) + 24576
    total = np.zeros(frames)
    for speaker, output in zip(CAR, table["outputs"]):
        gain = 10 ** (output["gain_db"] / 20) * (-1 if output["polarity"] == "inverted" else 1)
        gain *= sum(output["mix"][name] for name in ("left", "right") if side in (name, "both"))
        if gain == 0:
            continue
        driven = np.zeros(frames)
        driven[int(output["delay_samples"]):int(output["delay_samples"]) + len(feed)] = feed
        driven = signal.sosfilt(np.array([section["b"] + section["a"] for section in output["sections"]]), gain * driven)
        total += signal.fftconvolve(driven, speaker.impulse(place, moved=moved))[:frames]
    size = 1 << (frames - 1).bit_length()
    heard = np.fft.irfft(np.fft.rfft(total, size) * microphone_gain(np.fft.rfftfreq(size, 1 / RATE_HZ)), size)[:frames]
    late = lambda samples: np.concatenate([np.zeros(latency_samples), samples])[:frames]
    loop = np.concatenate([feed, np.zeros(frames - len(feed))])
    return [late(heard) + 3e-6 * np.random.default_rng(seed).standard_normal(frames), 0.5 * late(loop)]


def intake(**changes):
    """The car's intake sheet."""
    lowest_hz = {"high": 1500, "low": 60, "sub": 25}
    sheet = {
        "reference": "J-0147", "description": "Alder Tourer", "driver_side": "right", "seats": ["driver"], "positions_per_seat": 2,
        "target": [[20, 5], [60, 5], [150, 1], [1000, 0], [20000, -4]],
        "speakers": [{"output": s.output, "name": s.name, "way": s.way, "side": s.side, "lowest_hz": lowest_hz[s.way], "fs_hz": s.low_hz,
                      "nominal_ohm": 4, "rated_w": 80, "distance_cm": {"driver": round(34.32 * s.arrival_ms, 1)}} for s in CAR],
        "microphone": {"calibration": MICROPHONE_DB, "spl_at_full_scale": SPL_AT_FULL_SCALE},
        "supply": {"running_v": 13.8, "alternator_a": 120},
        "amplifiers": [{"name": "Front", "efficiency": 0.8, "cable": {"length_m": 5.5, "size_mm2": None, "material": "copper"}, "channels": [
            {"channel": c, "rated_w": 75, "rated_ohm": 4, "least_ohm": 2, "outputs": [c]} for c in (1, 2, 3, 4)] + [
            {"channel": 7, "bridged_with": 8, "rated_w": 300, "rated_ohm": 4, "least_ohm": 4, "outputs": [5]}]}],
        "processor": {"name": "Ten", "sample_rate_hz": RATE_HZ, "sections_per_output": 8, "gain_db": [-60, 12], "section_gain_db": [-15, 6],
                      "q": [0.4, 10], "delay_ms_most": 20, "delay_step_samples": 1, "gain_step_db": 0.1},
    }
    sheet.update(changes)
    return json.dumps(sheet)
