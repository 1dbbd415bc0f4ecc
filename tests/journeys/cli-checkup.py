# SPDX-License-Identifier: GPL-3.0-or-later
"""Months later the car comes back: it is measured again and compared with the restore point kept at hand-over.

Usage: cli-checkup.py CABINWRIGHT_CLI. What was changed in the simulated car is found, and nothing else is: the microphone
stands elsewhere, its gain is another, and the noise is another day's."""
import copy
import shutil
import unittest

import numpy as np

import cli_bench
from cli_bench import CAR, RATE_HZ, Bench, intake, read_wav, record, write_wav

PLACES = 2


class CheckUp(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.handed_over = bench = Bench()
        bench.write("intake.json", intake())
        bench.do("new", "car.cabin", "intake.json")
        cls.feeds = {}
        for speaker in CAR:
            bench.do("sweep", "car.cabin", "--output", speaker.output, "--out", "feed.wav")
            cls.feeds[speaker.output] = read_wav(bench.path("feed.wav"))[1][0]
        cls.measure(bench, CAR, "tuning", 1, 0)
        bench.do("tune", "car.cabin")
        bench.do("keep", "car.cabin", "Handed over")

    @classmethod
    def tearDownClass(cls):
        cls.handed_over.close()

    def setUp(self):
        self.bench = Bench()
        self.addCleanup(self.bench.close)
        shutil.copy(self.handed_over.path("car.cabin"), self.bench.folder)

    @classmethod
    def measure(cls, bench, car, purpose, seed, moved=1.5, gain_db=0.0):
        for speaker in car:
            for place in range(PLACES):
                microphone, loop = record(cls.feeds[speaker.output], speaker, place, seed, moved=moved)
                write_wav(bench.path("take.wav"), [microphone * 10 ** (gain_db / 20), loop])
                bench.ask("take", "car.cabin", "--output", speaker.output, "--position", f"driver/{place + 1}", "--purpose", purpose, "--timing", "loopback", "take.wav")

    def compare(self):
        found = self.bench.ask("compare", "car.cabin", "--since", "Handed over")
        listed = [finding for finding in self.bench.ask("findings", "car.cabin")["findings"] if finding["code"] == "changed-since"]
        self.assertEqual(found["findings"], listed)
        return found

    def test_nothing(self):
        self.assertEqual(self.compare(), {"since": "Handed over", "changes": [], "outputs": [], "common_db": 0, "common_ms": 0, "findings": []})
        self.measure(self.bench, CAR, "check-up", 2, gain_db=2.5)
        found = self.compare()
        self.assertEqual(found["findings"], [])
        self.assertEqual([output["output"] for output in found["outputs"]], [1, 2, 3, 4, 5])
        self.assertAlmostEqual(found["common_db"], 2.5, delta=0.3)
        self.assertIn("as before", self.bench.do("compare", "car.cabin", "--since", "Handed over"))

    def test_changed_car(self):
        car = copy.deepcopy(CAR)
        car[0].level_db -= 5          # a gain was moved
        car[1].level_db -= 200        # a tweeter has failed
        car[2].inverted = True        # wires were swapped
        car[3].arrival_ms += 0.6      # a delay was set elsewhere
        self.measure(self.bench, car, "check-up", 3, gain_db=-1.5)
        found = self.compare()
        by_output = {output["output"]: output for output in found["outputs"]}
        self.assertAlmostEqual(by_output[1]["level_db"], -5, delta=0.6)
        self.assertTrue(by_output[2]["silent"])
        self.assertEqual([output for output in by_output if by_output[output]["swapped"]], [3])
        self.assertAlmostEqual(by_output[4]["arrival_ms"], 0.6, delta=0.05)
        about = [(finding["about"]["output"], finding["severity"]) for finding in found["findings"]]
        self.assertEqual(about, [(1, "attend"), (2, "stop"), (3, "attend"), (4, "attend")])
        for finding in found["findings"]:
            self.assertIn("Handed over", finding["evidence"])
        words = self.bench.do("compare", "car.cabin", "--since", "Handed over")
        for wanted in ("plays no more", "polarity was swapped", "quieter", "later"):
            self.assertIn(wanted, words)

    def test_changed_band(self):
        """A woofer that is no longer tight in its door loses its bass, and keeps its middle."""
        car = copy.deepcopy(CAR)
        car[2].low_hz = 260
        self.measure(self.bench, car, "check-up", 4)
        found = self.compare()
        self.assertEqual([finding["about"]["output"] for finding in found["findings"]], [3])
        self.assertLess(found["outputs"][2]["band_db"], -6)
        self.assertLess(found["outputs"][2]["band_hz"], 150)

    def test_changed_settings(self):
        """Another tune: every value that differs is listed, and going back takes the finding away."""
        before = self.bench.ask("show", "car.cabin")["tune"]
        car = copy.deepcopy(CAR)
        car[0].level_db += 1
        self.measure(self.bench, car[:1], "tuning", 5)
        after = self.bench.ask("tune", "car.cabin")
        found = self.compare()
        gains = {change["path"]: (change["before"], change["after"]) for change in found["changes"] if change["path"].endswith("gain_db")}
        for index, (one, other) in enumerate(zip(before["outputs"], after["outputs"])):
            path = f"tune.outputs[{index}].gain_db"
            self.assertEqual(gains.get(path), (one["gain_db"], other["gain_db"]) if one["gain_db"] != other["gain_db"] else None)
        self.assertEqual([finding["severity"] for finding in found["findings"]], ["note"])
        self.bench.do("restore", "car.cabin", "Handed over")
        self.assertEqual(self.bench.ask("show", "car.cabin")["tune"], before)
        self.assertEqual(self.compare()["findings"], [])

    def test_points(self):
        self.assertEqual([point["name"] for point in self.bench.ask("keep", "car.cabin")["restore_points"]], ["Handed over"])
        self.bench.fails("keep", "car.cabin", "Handed over", naming=("car.cabin", "Handed over"))
        self.bench.fails("keep", "car.cabin", "", code=2)
        self.bench.fails("restore", "car.cabin", "Nowhere", naming=("car.cabin", "Nowhere"))
        self.bench.fails("compare", "car.cabin", "--since", "Nowhere", naming=("car.cabin", "Nowhere"))
        self.bench.fails("compare", "car.cabin", code=2)


if __name__ == "__main__":
    cli_bench.main(__name__)
