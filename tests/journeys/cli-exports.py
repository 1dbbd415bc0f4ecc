# SPDX-License-Identifier: GPL-3.0-or-later
"""What leaves the program: names that spreadsheets, compilers and shells would take for something else, and a locale that
writes numbers with a comma, change no number and break no form.

Usage: cli-exports.py CABINWRIGHT_CLI."""
import csv
import json
import os
import subprocess
import unittest

import cli_bench
from cli_bench import Bench, read_wav

NAMES = ["=1+1", "+cmd|' /C calc'!A0", "-2+3", "@SUM(1)", '  =HYPERLINK("http://x.invalid")', 'quoted "twice", comma', "tab\tand\nline", "*/ int x; /*",
         "Größe ك 音 \U0001F50A", "'apostrophe", "a\\b\\\"c", "<b>&amp;</b>", "$(touch here)`id`", "%s%n%x", "\u202egnal\u2028"]


def vehicle():
    section = {"use": "correction", "kind": "peaking", "frequency_hz": 1234.5678901234567, "gain_db": -3.1, "q": 1.1}
    crossover = {"use": "crossover", "kind": "high-pass", "family": "bessel", "order": 3, "frequency_hz": 80.25}
    return {
        "reference": "=J-0147", "description": NAMES[8],
        "speakers": [{"output": i + 1, "name": name, "lowest_hz": 50.5, "nominal_ohm": 3.3} for i, name in enumerate(NAMES)],
        "supply": {"running_v": 13.8, "alternator_a": 120.5},
        "amplifiers": [{"name": name, "efficiency": 0.82, "cable": {"length_m": 5.5},
                        "channels": [{"channel": 1, "rated_w": 62.5, "outputs": [i + 1]}]} for i, name in enumerate(NAMES[:3])],
        "tune": {"sample_rate_hz": 96000, "outputs": [{"output": i + 1, "mix": {"left": 0.5, "right": 0.25}, "gain_db": -1.5, "delay_samples": 100.5, "delay_ms": 1.046875,
                                                       "sections": [crossover, section]} for i in range(len(NAMES))],
                 "voicing": [{"use": "voicing", "kind": "low-shelf", "frequency_hz": 120.75, "gain_db": 1.5, "q": 0.7}]},
    }


class OneVehicle(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.bench = Bench()
        cls.bench.write("vehicle.json", json.dumps(vehicle()))
        cls.bench.do("new", "car.cabin", "vehicle.json")
        cls.bench.do("table", "car.cabin", "--out", "table.json")
        with open(cls.bench.path("table.json"), encoding="utf-8") as file:
            cls.table = json.load(file)

    @classmethod
    def tearDownClass(cls):
        cls.bench.close()


class Exports(OneVehicle):
    def test_check_says_which_form(self):
        """Rows, C and text do not hold the rate and the sign of a: check says which form does."""
        self.bench.do("check", "table.json")
        for form in ("csv", "tsv", "c", "text"):
            self.bench.do("table", "car.cabin", "--out", f"check.{form}", "--format", form)
            self.bench.fails("check", f"check.{form}", naming=(f"check.{form}", "--format json"))

    def test_wrong_rates(self):
        for rate_hz in ("-48000", "200", "nan"):
            self.bench.fails("table", "car.cabin", "--out", "wrong.json", "--rate", rate_hz, naming=("car.cabin", "rate", "8000"))

    def test_names_in_json(self):
        self.assertEqual([output["name"] for output in self.table["outputs"]], NAMES)
        self.assertEqual([amplifier["name"] for amplifier in self.bench.ask("electrics", "car.cabin")["amplifiers"]], NAMES[:3])
        self.assertEqual([speaker["name"] for speaker in self.bench.ask("show", "car.cabin")["speakers"]], NAMES)

    def test_names_in_cells(self):
        """No cell begins a formula, every row has its columns, and a name survives but for controls and the guard in front."""
        for form, delimiter in (("csv", ","), ("tsv", "\t")):
            self.bench.do("table", "car.cabin", "--out", f"table.{form}", "--format", form)
            with open(self.bench.path(f"table.{form}"), encoding="utf-8", newline="") as file:
                rows = list(csv.reader(file, delimiter=delimiter, quoting=csv.QUOTE_MINIMAL if form == "csv" else csv.QUOTE_NONE, strict=True))
            self.assertEqual({len(row) for row in rows}, {21})
            names = [row[2] for row in rows[1:] if row[8] == "1"]
            for name, cell in zip(NAMES, names, strict=True):
                self.assertNotIn(cell.lstrip()[:1], ("=", "+", "-", "@"))
                guard = "'" if name.lstrip()[0] in "=+-@" else ""
                self.assertEqual(cell, guard + name.replace("\t", " ").replace("\n", " "))

    def test_names_in_c(self):
        self.bench.do("table", "car.cabin", "--out", "table.c", "--format", "c")
        self.bench.write("main.c", '#include "table.c"\nint main(void) { return cabinwright_output_1[0][0] == 0 || cabinwright_output_15[3][0] == 0; }\n')
        subprocess.run(["cc", "-Wall", "-Wno-unused-const-variable", "-Werror", "-o", self.bench.path("main"), self.bench.path("main.c")], check=True)
        subprocess.run([self.bench.path("main")], check=True)

    def test_names_in_texts(self):
        for verb in ("show", "electrics", "findings"):
            self.bench.do(verb, "car.cabin")
        self.bench.do("report", "car.cabin", "--out", "report.pdf")
        text = subprocess.run(["pdftotext", self.bench.path("report.pdf"), "-"], check=True, capture_output=True, text=True).stdout
        for wanted in ("quoted \"twice\", comma", "<b>&amp;</b>", "%s%n%x", "$(touch here)`id`", "Größe"):
            self.assertIn(wanted, text)
        self.assertFalse(os.path.exists(self.bench.path("here")))

    def test_voicing_is_in_every_output(self):
        for output in self.table["outputs"]:
            self.assertEqual([section["use"] for section in output["sections"]], ["crossover", "crossover", "correction", "voicing"])

    def test_file_names(self):
        """Names of files may be anything too."""
        for name in ("--table.json", "tab le\n.json", "ك=1.json"):
            self.bench.do("table", "car.cabin", "--out", f"./{name}")
            self.assertTrue(self.bench.ask("check", f"./{name}")["sound"])
        self.bench.fails("report", "car.cabin", "--out", "no\nfolder/r.pdf")


class Locale(OneVehicle):
    """The same under a locale with a decimal comma."""

    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        folder = cls.bench.path("locales")
        os.mkdir(folder)
        made = subprocess.run(["localedef", "-i", "de_DE", "-f", "UTF-8", os.path.join(folder, "de_DE.UTF-8")], capture_output=True)
        cls.environment = {"LOCPATH": folder, "LC_ALL": "de_DE.UTF-8"}
        if made.returncode not in (0, 1) or not os.path.exists(os.path.join(folder, "de_DE.UTF-8")):
            raise unittest.SkipTest("no locale with a decimal comma can be made here")

    def test_the_locale_works(self):
        self.assertIn("5,5 m", self.bench.do("electrics", "car.cabin", environment=self.environment))

    def test_same_numbers(self):
        for form in ("json", "csv", "tsv", "c"):
            for fixed in ((), ("--fixed", "5.23")):
                written = []
                for environment in ({}, self.environment):
                    self.bench.do("table", "car.cabin", "--out", "one", "--format", form, "--rate", "44100.5", *fixed, environment=environment)
                    with open(self.bench.path("one"), "rb") as file:
                        written.append(file.read())
                self.assertEqual(*written)
        for verb in ("electrics", "show", "findings"):
            self.assertEqual(self.bench.do(verb, "car.cabin", "--json"), self.bench.do(verb, "car.cabin", "--json", environment=self.environment))

    def test_reading(self):
        self.bench.do("new", "other.cabin", "vehicle.json", environment=self.environment)
        one, other = self.bench.ask("show", "car.cabin"), self.bench.ask("show", "other.cabin")
        self.assertEqual(one["tune"], other["tune"])
        self.bench.do("sweep", "other.cabin", "--output", 1, "--level", "-20.5", "--out", "feed.wav", environment=self.environment)
        _, channels = read_wav(self.bench.path("feed.wav"))
        self.assertAlmostEqual(max(abs(channels[0])), 10 ** (-20.5 / 20), delta=0.002)
        self.assertTrue(self.bench.ask("check", "table.json", environment=self.environment)["sound"])


if __name__ == "__main__":
    cli_bench.main(__name__)
