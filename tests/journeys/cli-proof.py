# SPDX-License-Identifier: GPL-3.0-or-later
"""Proof through the console program: a processor (scipy) with the table in it is measured in the simulated car. With the right
table the prediction holds; with a wrong setting it does not, and the proof says where.

Usage: cli-proof.py CABINWRIGHT_CLI."""
import copy
import json
import shutil
import unittest

import numpy as np

import cli_bench
from cli_bench import CAR, Bench, intake, read_wav, record, record_through, write_wav

PLACES = 2
SIDES = ("left", "right", "both")


MOVED_SAMPLES = 1.5  # by which each way to the microphone is longer or shorter than for the tune, at most


def rms_where_sums_hold(both):
    """How far both sides together are from their prediction up to where their ways, moved apart by twice that at most, differ by
    an eighth of a wave. Above, how the two sides add up is another matter at another place: at 6.5 kHz they are a half wave
    apart at both positions of this car, and the better the sides are alike, the deeper is that hole, which any move fills."""
    predicted, highest_hz = dict(map(tuple, both["predicted"])), cli_bench.RATE_HZ / (8 * 2 * MOVED_SAMPLES)
    off = [db - predicted[hz] for hz, db in both["measured"] if 30 <= hz <= highest_hz and predicted[hz] > max(predicted.values()) - 25]
    assert len(off) > 100
    return float(np.sqrt(np.mean(np.square(off))))


class Proof(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.tuned = bench = Bench()
        bench.write("intake.json", intake())
        bench.do("new", "car.cabin", "intake.json")
        for speaker in CAR:
            bench.do("sweep", "car.cabin", "--output", speaker.output, "--out", "feed.wav")
            feed = read_wav(bench.path("feed.wav"))[1][0]
            for place in range(PLACES):
                write_wav(bench.path("take.wav"), record(feed, speaker, place))
                bench.do("take", "car.cabin", "--output", speaker.output, "--position", f"driver/{place + 1}", "--timing", "loopback", "take.wav")
        bench.do("tune", "car.cabin")
        bench.do("table", "car.cabin", "--out", "table.json")
        with open(bench.path("table.json"), encoding="utf-8") as file:
            cls.table = json.load(file)
        bench.do("proof", "car.cabin", "--feed", "feed.wav")
        cls.feed = read_wav(bench.path("feed.wav"))[1][0]

    @classmethod
    def tearDownClass(cls):
        cls.tuned.close()

    def setUp(self):
        self.bench = Bench()
        self.addCleanup(self.bench.close)
        shutil.copy(self.tuned.path("car.cabin"), self.bench.folder)

    def measure(self, table, sides=SIDES, gain_db=0.0):
        for side in sides:
            for place in range(PLACES):
                microphone, loop = record_through(table, self.feed, side, place, moved=MOVED_SAMPLES)
                write_wav(self.bench.path("take.wav"), [microphone * 10 ** (gain_db / 20), loop])
                rows = self.bench.ask("proof", "car.cabin", "take.wav", "--input", side, "--position", f"driver/{place + 1}")
        return rows

    def state(self):
        vehicle = self.bench.ask("show", "car.cabin")
        return next(stage["state"] for stage in vehicle["stages"] if stage["stage"] == "proof")

    def test_nothing_yet(self):
        self.assertEqual(self.bench.ask("proof", "car.cabin"), {"current": False, "proof": []})
        self.assertEqual(self.state(), "untouched")

    def test_right_table(self):
        """Also when the source is not at full scale."""
        rows = self.measure(self.table, gain_db=-6)
        self.assertTrue(rows["current"])
        self.assertEqual([row["subject"] for row in rows["proof"]], ["driver, left alone", "driver, right alone", "driver, both sides"])
        left, right, both = rows["proof"]
        for row in rows["proof"]:
            self.assertTrue(row["agrees"], row["subject"])
        self.assertLess(left["rms_db"], 0.5)
        self.assertLess(right["rms_db"], 0.5)
        self.assertLess(rms_where_sums_hold(both), 0.5)
        self.assertEqual(self.state(), "done")
        self.bench.do("report", "car.cabin", "--out", "report.pdf")

    def find_wrong(self, change):
        wrong = copy.deepcopy(self.table)
        change(wrong["outputs"])
        rows = self.measure(wrong)
        differing = [row for row in rows["proof"] if not row["agrees"]]
        self.assertEqual(self.state(), "to-settle")
        findings = [finding for finding in self.bench.ask("findings", "car.cabin")["findings"] if finding["stage"] == "proof"]
        self.assertEqual(len(findings), len(differing))
        return {row["subject"].split(", ")[1]: row for row in differing}

    def test_wrong_gain(self):
        def change(outputs):
            outputs[0]["gain_db"] += 6
        differing = self.find_wrong(change)
        self.assertIn("left alone", differing)
        self.assertNotIn("right alone", differing)
        self.assertGreater(differing["left alone"]["worst_hz"], 1500)
        self.assertGreater(differing["left alone"]["worst_db"], 3)

    def test_wrong_polarity(self):
        def change(outputs):
            outputs[3]["polarity"] = "normal" if outputs[3]["polarity"] == "inverted" else "inverted"
        differing = self.find_wrong(change)
        self.assertIn("right alone", differing)
        self.assertNotIn("left alone", differing)
        self.assertLess(differing["right alone"]["worst_db"], 0)

    def test_wrong_delay(self):
        """A millisecond shows where both sides must agree; five of them on the side alone too."""
        def change(outputs):
            outputs[2]["delay_samples"] += 60
        self.assertIn("both sides", self.find_wrong(change))

    def test_far_wrong_delay(self):
        def change(outputs):
            outputs[2]["delay_samples"] += 240
        self.assertIn("left alone", self.find_wrong(change))

    def test_missing_section(self):
        def change(outputs):
            del outputs[4]["sections"][1]
        self.assertTrue(self.find_wrong(change))

    def test_refused(self):
        silent = np.zeros(len(self.feed) + 24576)
        write_wav(self.bench.path("silent.wav"), [silent, silent])
        self.bench.fails("proof", "car.cabin", "silent.wav", "--input", "left", "--position", "driver/1", naming=("silent.wav", "silent"))
        self.bench.fails("proof", "car.cabin", "silent.wav", "--input", "left", "--position", "boot/1", naming=("silent.wav", "boot"))
        self.bench.fails("proof", "car.cabin", "missing.wav", "--input", "left", "--position", "driver/1", naming=("missing.wav",))
        self.bench.fails("proof", "car.cabin", "silent.wav", "--position", "driver/1", code=2)
        self.bench.fails("proof", "car.cabin", "silent.wav", "--input", "middle", "--position", "driver/1", code=2)


if __name__ == "__main__":
    cli_bench.main(__name__)
