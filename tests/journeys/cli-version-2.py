# SPDX-License-Identifier: GPL-3.0-or-later
"""A vehicle file that version 2 wrote, with a take of each kind: it opens, its feeds stand in fields as they were played, and
the recordings of its takes, made again from the numbers of that time, are analysed to the figures of that time.

Usage: cli-version-2.py CABINWRIGHT_CLI."""
import os
import shutil
import unittest

import numpy as np
from scipy.io import wavfile

import cli_bench
from cli_bench import Bench
from version_2_feeds import RATE_HZ, SILENCE_S, TOP_HZ, Feed, recording_of

FILE = os.path.join(os.path.dirname(__file__), "version-2", "version-2.cabin")
FEEDS = {1: Feed(3150, -15), 2: Feed(80, -12, 2800), 3: Feed(2800, -18.5, 3150, 2)}
TAKES = {"loopback": (1, "driver/1"), "marker": (2, "driver/1"), "repeats": (3, "driver/2")}
# The window over an impulse response begins 11 ms earlier now where the direct sound is early: what lies before counts.
WINDOW_DB = 0.05


class Version2(unittest.TestCase):
    def setUp(self):
        self.bench = Bench()
        self.addCleanup(self.bench.close)
        shutil.copy(FILE, self.bench.path("car.cabin"))

    def test_copy_is_kept(self):
        with open(FILE, "rb") as file:
            before = file.read()
        self.bench.do("sweep", "car.cabin", "--output", 2, "--out", "feed.wav")
        with open(self.bench.path("car.version-2.cabin"), "rb") as file:
            self.assertEqual(file.read(), before)
        self.bench.do("check", "car.cabin")

    def test_feeds(self):
        noted = {feed["output"]: feed for feed in self.bench.ask("show", "car.cabin")["feeds"]}
        self.assertEqual(set(noted), set(FEEDS))
        for output, feed in FEEDS.items():
            wanted = {"start_hz": feed.start_hz, "stop_hz": TOP_HZ, "seconds": feed.sweep_s, "growth_s": feed.growth_s,
                      "protect_hz": feed.lowest_hz, "rate_hz": RATE_HZ, "silence_s": feed.sweep_at, "period_s": feed.period_s,
                      "repeats": len(feed.sweeps_at), "length_s": feed.seconds}
            if feed.markers_at:
                wanted.update({"marker_low_hz": feed.marker_low_hz, "first_marker_s": SILENCE_S,
                               "second_marker_s": feed.markers_at[1]})
            else:
                self.assertIsNone(noted[output]["marker_low_hz"])
            for key, value in wanted.items():
                self.assertAlmostEqual(noted[output][key] / value, 1, delta=1e-12, msg=f"output {output}: {key}")

    def test_takes_anew(self):
        before = {take["output"]: take for take in self.bench.ask("show", "car.cabin")["takes"]}
        for name, (output, position) in TAKES.items():
            rate, channels = recording_of(name)
            wavfile.write(self.bench.path("take.wav"), rate, channels.astype(np.float32))
            old = before[output]
            new = self.bench.ask("take", "car.cabin", "take.wav", "--output", output, "--position", position, "--timing",
                                 old["timing"])
            was, found = dict(map(tuple, old["response"])), dict(map(tuple, new["response"]))
            # A recorder at 32 kHz hears to 16 kHz, and its own filter above 0.46 of its rate.
            shared = [hz for hz in was if hz < 0.9 * 0.46 * rate]
            self.assertGreater(len(shared), 100)
            for hz in shared:
                self.assertAlmostEqual(found[hz], was[hz], delta=WINDOW_DB, msg=f"{name} at {hz} Hz")
            self.assertLess(max(found), 0.97 * 0.46 * rate)
            if old["clock_ppm"] is not None:
                self.assertAlmostEqual(new["clock_ppm"], old["clock_ppm"], delta=1e-6)
        marked = [take for take in self.bench.ask("show", "car.cabin")["takes"] if take["output"] == 2][-1]
        self.assertEqual([row[1] for row in marked["response"]], [row[1] for row in before[2]["response"]])
        self.assertAlmostEqual(marked["level_db_spl"], before[2]["level_db_spl"], delta=1e-6)

    def test_take_keeps_its_feed(self):
        rate, channels = recording_of("marker")
        wavfile.write(self.bench.path("take.wav"), rate, channels.astype(np.float32))
        self.bench.do("take", "car.cabin", "take.wav", "--output", 2, "--position", "driver/1", "--timing", "marker")
        self.bench.do("sweep", "car.cabin", "--output", 2, "--level", -20, "--out", "feed.wav")
        vehicle = self.bench.ask("show", "car.cabin")
        noted = next(feed for feed in vehicle["feeds"] if feed["output"] == 2)
        kept = next(take for take in vehicle["takes"] if take["output"] == 2 and take.get("feed"))["feed"]
        self.assertEqual(noted["level_dbfs"], -20)
        self.assertEqual(kept["level_dbfs"], -12)
        self.assertAlmostEqual(kept["second_marker_s"], FEEDS[2].markers_at[1], delta=1e-9)


if __name__ == "__main__":
    cli_bench.main(__name__)
