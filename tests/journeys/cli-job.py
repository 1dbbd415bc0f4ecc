# SPDX-License-Identifier: GPL-3.0-or-later
"""The whole job through the console program, on a simulated car: sheet, feeds, takes, tune, tables, report, findings, checks.

Usage: cli-job.py CABINWRIGHT_CLI. What is measured is compared with the car's truth, tables with scipy's own design of every
filter, and the tuned car with its target, by applying the table to the car as a processor would."""
import csv
import hashlib
import json
import math
import re
import shutil
import subprocess
import unittest

import numpy as np
from scipy import signal

import cli_bench
from cli_bench import CAR, RATE_HZ, SPL_AT_FULL_SCALE, Bench, intake, read_wav, record, write_wav

PLACES = 2


def keys_of(test, found, wanted):
    """All wanted keys are there; more may be."""
    test.assertEqual(set(wanted) - set(found), set())


class Job(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.bench = bench = Bench()
        cls.feeds, cls.takes = {}, {}
        bench.write("intake.json", intake())
        bench.do("new", "car.cabin", "intake.json")
        for speaker in CAR:
            bench.do("sweep", "car.cabin", "--output", speaker.output, "--out", f"feed-{speaker.output}.wav")
            cls.feeds[speaker.output] = read_wav(bench.path(f"feed-{speaker.output}.wav"))
            for place in range(PLACES):
                write_wav(bench.path("take.wav"), record(cls.feeds[speaker.output][1][0], speaker, place))
                cls.takes[speaker.output, place] = bench.ask("take", "car.cabin", "--output", speaker.output, "--position", f"driver/{place + 1}",
                                                             "--timing", "loopback", "take.wav")
        cls.tune = bench.ask("tune", "car.cabin", "--seat", "driver")
        bench.do("table", "car.cabin", "--out", "table.json")
        with open(bench.path("table.json"), encoding="utf-8") as file:
            cls.table = json.load(file)

    @classmethod
    def tearDownClass(cls):
        cls.bench.close()

    def test_feeds(self):
        for output, (rate_hz, channels) in self.feeds.items():
            self.assertEqual((rate_hz, len(channels)), (RATE_HZ, 1))
            self.assertAlmostEqual(20 * math.log10(np.max(np.abs(channels[0]))), -12, delta=0.1)
        # A tweeter's feed spares what lies an octave below its lowest frequency: 24 dB down at least.
        spectrum = np.abs(np.fft.rfft(self.feeds[1][1][0]))
        hz = np.fft.rfftfreq(len(self.feeds[1][1][0]), 1 / RATE_HZ)
        power = lambda low, high: np.mean(spectrum[(hz > low) & (hz < high)] ** 2)
        self.assertLess(power(20, 500), 1e-3 * power(2000, 8000))

    def test_marker_feed(self):
        with Copy(self.bench) as copy:
            copy.do("sweep", "car.cabin", "--output", 3, "--marker", 1, "--level", -20, "--out", "feed.wav")
            _, channels = read_wav(copy.path("feed.wav"))
            self.assertEqual(len(channels), 2)
            self.assertAlmostEqual(20 * math.log10(np.max(np.abs(channels[0]))), -20, delta=0.1)
            self.assertGreater(np.max(np.abs(channels[1])), 0.01)

    def test_repeats_between_markers(self):
        """Four sweeps between two markers, heard in white noise: 6 dB more than one, 10 log10(4) as independent noise has it."""
        snr_db = []
        with Copy(self.bench) as copy:
            for repeats in (1, 4):
                copy.do("sweep", "car.cabin", "--output", 3, "--marker", 1, "--repeats", repeats, "--out", "feed.wav")
                _, (sweeps, markers) = read_wav(copy.path("feed.wav"))
                feed = next(feed for feed in copy.ask("show", "car.cabin")["feeds"] if feed["output"] == 3)
                self.assertEqual((feed["repeats"], feed["marker_output"]), (repeats, 1))
                heard = np.concatenate([np.zeros(RATE_HZ), 0.1 * sweeps + 0.1 * markers, np.zeros(RATE_HZ // 2)])
                heard += np.random.default_rng(7).normal(0, 2e-3, len(heard))
                write_wav(copy.path("take.wav"), [heard])
                take = copy.ask("take", "car.cabin", "--output", 3, "--position", "driver/1", "--timing", "marker", "take.wav")
                self.assertAlmostEqual(take["arrival_ms"], 0, delta=0.03)
                snr_db.append(take["snr_db"])
        self.assertAlmostEqual(snr_db[1] - snr_db[0], 6.02, delta=1)

    def test_takes(self):
        for (output, place), take in self.takes.items():
            speaker = CAR[output - 1]
            keys_of(self, take, ["output", "position", "accepted", "reasons", "arrival_ms", "polarity", "polarity_confidence", "level_db_spl", "snr_db",
                                 "response", "distortion", "rattle"])
            self.assertTrue(take["accepted"], take["reasons"])
            self.assertEqual(take["polarity"], "inverted" if speaker.inverted else "normal")
            self.assertIsNone(take["rattle"])
            if speaker.way != "sub":
                self.assertAlmostEqual(take["arrival_ms"], 1e3 * speaker.delay_samples(place) / RATE_HZ, delta=0.03)

    def test_arrival_by_hand(self):
        """An arrival that a person sets stays through other takes, is marked, and can be given back to the takes."""
        at = ("arrival", "car.cabin", "--output", 3, "--position", "driver/1")
        with Copy(self.bench) as copy:
            before = next(take for take in copy.ask("show", "car.cabin")["takes"] if (take["output"], take["position"]) == (3, "driver/1"))
            keys_of(self, before, ["arrival_doubt_us", "arrival_by", "arrival_set_ms", "edges"])
            self.assertEqual((before["arrival_by"], before["arrival_set_ms"]), ("both", None))
            self.assertLess(abs(before["arrival_ms"] - 1e3 * CAR[2].delay_samples(0) / RATE_HZ), 1e-3 * before["arrival_doubt_us"])
            take = copy.ask(*at, "--ms", 5.25)
            self.assertEqual((take["arrival_ms"], take["arrival_by"], take["arrival_set_ms"]), (5.25, "hand", 5.25))
            feed = copy.path("feed.wav")
            copy.do("sweep", "car.cabin", "--output", 3, "--out", feed)
            heard, loop = record(read_wav(feed)[1][0], CAR[2], 1)
            write_wav(copy.path("again.wav"), [heard, loop])
            copy.do("take", "car.cabin", "--output", 3, "--position", "driver/2", "again.wav")
            kept = next(take for take in copy.ask("show", "car.cabin")["takes"] if (take["output"], take["position"]) == (3, "driver/1"))
            self.assertEqual((kept["arrival_ms"], kept["arrival_by"]), (5.25, "hand"))
            self.assertEqual(copy.ask(*at, "--edge", 1)["arrival_ms"], before["edges"][0][0])
            back = copy.ask(*at, "--by-sound")
            self.assertEqual((back["arrival_by"], back["arrival_set_ms"]), ("both", None))
            self.assertAlmostEqual(back["arrival_ms"], before["arrival_ms"], delta=0.01)
            copy.fails(*at, "--edge", 99, naming=("99",))
            copy.fails(*at, "--ms", 9000, naming=("9000",))
            copy.fails(*at, "--edge", 1, "--by-sound", code=2, naming=("--by-sound",))
            rows = copy.ask("arrival", "car.cabin")
            self.assertEqual({(row["output"], row["position"]) for row in rows},
                             {(take["output"], take["position"]) for take in copy.ask("show", "car.cabin")["takes"] if take["accepted"]})
            row = copy.ask(*at)[0]
            keys_of(self, row, ["sheet_cm", "expected_ms", "arrival_doubt_us"])
            self.assertAlmostEqual(row["arrival_ms"], back["arrival_ms"], delta=1e-3)

    def test_responses(self):
        """Power-smoothed over 1/24 octave as the contract has it, the calibration taken off, against the truth."""
        for (output, place), take in self.takes.items():
            impulse = CAR[output - 1].impulse(place)
            power = np.abs(np.fft.rfft(impulse, 1 << 17)) ** 2
            hz = np.fft.rfftfreq(1 << 17, 1 / RATE_HZ)
            points = np.array([[at, db] for at, db in take["response"] if db is not None])
            truth = np.array([10 * math.log10(np.mean(power[(hz >= at * 2 ** (-1 / 48)) & (hz <= at * 2 ** (1 / 48))])) + SPL_AT_FULL_SCALE
                              for at in points[:, 0]])
            near = truth > np.max(truth) - 20
            error = np.abs(points[:, 1] - truth)[near]
            self.assertLess(np.percentile(error, 95), 0.3, f"output {output} at {place}: worst {np.max(error):.2f} dB")
            self.assertGreater(np.count_nonzero(near), 60)

    def test_show(self):
        vehicle = self.bench.ask("show", "car.cabin")
        keys_of(self, vehicle, ["reference", "speakers", "stages", "takes", "tune", "findings"])
        self.assertEqual(len(vehicle["takes"]), len(self.takes))
        self.assertEqual([stage["stage"] for stage in vehicle["stages"]],
                         ["sheet", "supply", "signal", "map", "levels", "measuring", "tuning", "proof", "hand-over"])
        text = self.bench.do("show", "car.cabin")
        self.assertIn("J-0147", text)

    def test_findings(self):
        findings = self.bench.ask("findings", "car.cabin")["findings"]
        for finding in findings:
            keys_of(self, finding, ["code", "severity", "stage", "about", "text", "evidence", "advice"])
            self.assertIn(finding["severity"], ("stop", "attend", "note"))
        reversed_ones = [finding["about"]["output"] for finding in findings if finding["code"] == "speaker-inverted"]
        self.assertEqual(reversed_ones, [4])
        self.assertFalse([finding for finding in findings if finding["code"] in ("speaker-rattle", "take-refused", "load-too-low")])

    def test_electrics(self):
        found = self.bench.ask("electrics", "car.cabin")
        amplifier = found["amplifiers"][0]
        keys_of(self, amplifier, ["name", "current_a", "cable_mm2", "drop_v", "drop_percent", "fuse_a", "loads", "targets"])
        self.assertAlmostEqual(amplifier["current_a"], (4 * 75 + 300) / 0.8 / 13.8, places=9)
        self.assertEqual((amplifier["fuse_a"], amplifier["cable_mm2"]), (60, 25))
        self.assertAlmostEqual(amplifier["drop_v"], 2 * 5.5 * 0.78e-3 * amplifier["current_a"], places=9)
        self.assertEqual(amplifier["loads"][-1], {"channels": [7, 8], "ohm": 4, "least_ohm": 4, "ok": True})
        self.assertAlmostEqual(amplifier["targets"][0]["volts"], math.sqrt(300), places=9)
        self.assertEqual((found["alternator_ok"], found["total_a"]), (True, amplifier["current_a"]))

    def test_table_keys(self):
        keys_of(self, self.table, ["format", "version", "sample_rate_hz", "a_sign", "outputs", "inputs"])
        self.assertEqual((self.table["format"], self.table["version"], self.table["sample_rate_hz"], self.table["a_sign"]),
                         ("cabinwright-table", 1, RATE_HZ, "minus"))
        for output, speaker in zip(self.table["outputs"], CAR):
            keys_of(self, output, ["output", "name", "mix", "gain_db", "polarity", "delay_samples", "delay_ms", "sections"])
            self.assertEqual((output["output"], output["name"]), (speaker.output, speaker.name))
            self.assertAlmostEqual(output["delay_ms"], 1e3 * output["delay_samples"] / RATE_HZ, places=9)
            for section in output["sections"]:
                keys_of(self, section, ["use", "kind", "frequency_hz", "gain_db", "q", "b", "a"])
                self.assertIn(section["use"], ("crossover", "correction", "voicing"))

    def test_table_forms(self):
        """Every form gives the same doubles."""
        for form, delimiter in (("csv", ","), ("tsv", "\t")):
            self.bench.do("table", "car.cabin", "--out", f"table.{form}", "--format", form)
            with open(self.bench.path(f"table.{form}"), encoding="utf-8", newline="") as file:
                rows = [row for row in csv.DictReader(file, delimiter=delimiter) if row["channel"] == "output"]
            sections = [(output, section) for output in self.table["outputs"] for section in output["sections"]]
            self.assertEqual(len(rows), len(sections))
            for row, (output, section) in zip(rows, sections):
                self.assertEqual([float(row[name]) for name in ("b0", "b1", "b2", "a1", "a2")], section["b"] + section["a"][1:])
                self.assertEqual(float(row["gain_db"]), output["gain_db"])
                self.assertEqual(float(row["delay_samples"]), output["delay_samples"])
                self.assertEqual(row["name"], output["name"])
                self.assertEqual(int(row["polarity"]), -1 if output["polarity"] == "inverted" else 1)
                self.assertEqual((float(row["sample_rate_hz"]), row["a_sign"]), (RATE_HZ, "minus"))

    def test_table_of_another_kind(self):
        """Rate, sign and fixed point stand in every row, also of a channel without a section; the text form takes none of them."""
        self.bench.do("table", "car.cabin", "--out", "other.csv", "--format", "csv", "--rate", "48000", "--a-sign", "plus", "--fixed", "5.23")
        with open(self.bench.path("other.csv"), encoding="utf-8", newline="") as file:
            rows = list(csv.reader(file, strict=True))
        self.assertEqual({len(row) for row in rows}, {26})
        self.assertEqual({tuple(row[-2:]) for row in rows[1:]}, {("48000", "plus")})
        for options in (("--rate", "48000"), ("--fixed", "5.23"), ("--a-sign", "minus")):
            self.bench.fails("table", "car.cabin", "--out", "settings.txt", "--format", "text", *options, code=2, naming=("--format text", options[0]))
        self.bench.fails("tune", "car.cabin", "--seat", "driver", "--seats", "all", code=2, naming=("--seat", "--seats"))

    def test_table_in_c(self):
        """The C form compiles without a warning, and holds the same doubles."""
        self.bench.do("table", "car.cabin", "--out", "table.c", "--format", "c")
        prints = "".join(f'  for (int i = 0; i < {len(o["sections"])}; i++) for (int k = 0; k < 5; k++) '
                         f'printf("%.17g\\n", cabinwright_output_{o["output"]}[i][k]);\n' for o in self.table["outputs"])
        self.bench.write("print.c", f'#include "table.c"\n#include <stdio.h>\nint main(void)\n{{\n{prints}  return 0;\n}}\n')
        subprocess.run(["cc", "-std=c11", "-Wall", "-Wextra", "-Werror", "-pedantic", "-o", self.bench.path("print"), self.bench.path("print.c")], check=True)
        printed = subprocess.run([self.bench.path("print")], check=True, capture_output=True, text=True).stdout.split()
        wanted = [number for output in self.table["outputs"] for section in output["sections"] for number in section["b"] + section["a"][1:]]
        self.assertEqual([float(number) for number in printed], wanted)

    def test_a_sign(self):
        self.bench.do("table", "car.cabin", "--out", "plus.json", "--a-sign", "plus")
        with open(self.bench.path("plus.json"), encoding="utf-8") as file:
            plus = json.load(file)
        self.assertEqual(plus["a_sign"], "plus")
        for one, other in zip(self.table["outputs"], plus["outputs"]):
            for a, b in zip(one["sections"], other["sections"]):
                self.assertEqual((a["b"], a["a"][0], [-a["a"][1], -a["a"][2]]), (b["b"], b["a"][0], b["a"][1:]))
        self.bench.do("check", "plus.json")

    def test_fixed_point(self):
        """Codes are the nearest of the format, and what they round to still filters as it should."""
        self.bench.do("table", "car.cabin", "--out", "fixed.json", "--fixed", "5.23")
        with open(self.bench.path("fixed.json"), encoding="utf-8") as file:
            fixed = json.load(file)
        self.assertEqual(fixed["fixed"], "5.23")
        hz = np.geomspace(20, 20000, 300)
        for output in fixed["outputs"]:
            for section in output["sections"]:
                exact = np.array(section["b"] + section["a"][1:])
                rounded = np.array(section["codes"]) / 2 ** 23
                self.assertLessEqual(np.max(np.abs(exact - rounded)), 2 ** -24 * (1 + 1e-9))
                response = lambda c: np.abs(signal.freqz(c[:3], [1, *c[3:]], worN=hz, fs=RATE_HZ)[1])
                heard = response(exact) > 1e-3  # the stated error leaves out where the section itself is 60 dB down
                worst_db = np.max(np.abs(20 * np.log10(response(rounded)[heard] / response(exact)[heard])))
                self.assertLess(worst_db, section["worst_error_db"] + 0.01)

    def test_rates(self):
        """At every rate each section is scipy's own design of it at that rate, and delays keep their time."""
        for rate_hz in (44100, 48000, 96000):
            self.bench.do("table", "car.cabin", "--out", "rate.json", "--rate", rate_hz)
            with open(self.bench.path("rate.json"), encoding="utf-8") as file:
                table = json.load(file)
            self.assertEqual(table["sample_rate_hz"], rate_hz)
            hz = np.geomspace(20, 20000, 200)
            for output, settings, own in zip(table["outputs"], self.tune["outputs"], self.table["outputs"]):
                self.assertLessEqual(abs(output["delay_ms"] - own["delay_ms"]), 0.5e3 / rate_hz + 1e-9)
                wanted = np.prod([design(section, rate_hz, hz) for section in settings["sections"]], axis=0)
                got = response_of(output["sections"], rate_hz, hz)
                self.assertLess(np.max(np.abs(got - wanted)), 1e-8)

    def test_tuned_car(self):
        """A processor that runs the table makes the car what the target asks for."""
        target = np.array(json.loads(intake())["target"])
        hz = np.geomspace(60, 14000, 400)
        level = np.interp(np.log(hz), np.log(target[:, 0]), target[:, 1])
        deviation = {}
        for name, side in (("left", (1, 0)), ("right", (0, 1)), ("both", (1, 1))):
            power = 0
            for place in range(PLACES):
                total = np.zeros(16384)
                for speaker, output in zip(CAR, self.table["outputs"]):
                    gain = 10 ** (output["gain_db"] / 20) * (-1 if output["polarity"] == "inverted" else 1)
                    gain *= output["mix"]["left"] * side[0] + output["mix"]["right"] * side[1]
                    sos = np.array([section["b"] + section["a"] for section in output["sections"]])
                    filtered = signal.sosfilt(sos, np.concatenate([speaker.impulse(place), np.zeros(8192)]))
                    self.assertEqual(output["delay_samples"], round(output["delay_samples"]))
                    total += gain * np.roll(filtered, int(output["delay_samples"]))
                power = power + smooth(np.abs(np.fft.rfft(total)) ** 2, hz, 1 / 6)
            db = 10 * np.log10(power) - level
            # Above 2 kHz left and right add in a comb that differs from place to place, and that no filter can fill.
            deviation[name] = np.std(db[hz < 2000] if name == "both" else db)
        # The bars that the tuning itself is held to, in standard deviation.
        for name, bar_db in (("left", 0.8), ("right", 0.8), ("both", 0.8)):
            self.assertLess(deviation[name], bar_db, name)

    def test_headroom(self):
        """Level at the seat for full scale on both inputs, and the first thing that gives out, anew from the car's own impulses, the
        table, and V = sqrt(P R) of amplifier and speaker."""
        found = self.bench.ask("headroom", "car.cabin", "--seat", "driver")
        full = np.fft.rfftfreq(1 << 16, 1 / RATE_HZ)
        power = 0
        for place in range(PLACES):
            total = 0
            for speaker, output in zip(CAR, self.table["outputs"]):
                drive = response_of(output["sections"], RATE_HZ, full) * 10 ** (output["gain_db"] / 20)
                drive = drive * (-1 if output["polarity"] == "inverted" else 1) * (output["mix"]["left"] + output["mix"]["right"])
                total = total + np.fft.rfft(speaker.impulse(place), 1 << 16) * drive * np.exp(-2j * np.pi * full * output["delay_samples"] / RATE_HZ)
            power = power + np.abs(total) ** 2 / PLACES
        volts = {speaker.output: (math.sqrt(300 * 4) if speaker.output == 5 else math.sqrt(75 * 4), math.sqrt(80 * 4)) for speaker in CAR}
        limits = set()
        for band in found["bands"]:
            inside = (full >= band["hz"] * 2 ** (-1 / 6)) & (full <= band["hz"] * 2 ** (1 / 6))
            level = 10 * np.log10(np.mean(power[inside])) + SPL_AT_FULL_SCALE
            rooms = []
            for output in self.table["outputs"]:
                drive = np.abs(response_of(output["sections"], RATE_HZ, full[inside])).max() * 10 ** (output["gain_db"] / 20)
                drive *= abs(output["mix"]["left"] + output["mix"]["right"])
                amplifier, speaker = volts[output["output"]]
                rooms.append((20 * math.log10(min(amplifier, speaker) / amplifier / (drive + 1e-9)), output["output"],
                              "power" if speaker < amplifier else "processor"))
            room, output, by = min(rooms)
            limits.add(band["limit"]["by"])
            if 31 < band["hz"] < 13000:
                # 48 points an octave and the takes' own windows against the truth: the bar on takes, 0.2 dB, and a little for sums.
                self.assertAlmostEqual(band["spl_db"], level + min(room, 0), delta=0.4, msg=str(band))
                # Half a point of the program's grid, 1/96 octave, on the steepest crossover, 48 dB per octave.
                self.assertAlmostEqual(band["headroom_db"], room, delta=0.5, msg=str(band))
            if abs(room) > 0.5:
                self.assertEqual((band["limit"]["output"], band["limit"]["by"]), (output, by) if room < 0 else (0, "radio"), band)
        self.assertIn("power", limits)
        # 300 W for a subwoofer of 80 W, and 75 W for every other speaker of 80 W.
        strong = [f for f in self.bench.ask("findings", "car.cabin")["findings"] if f["code"].startswith("amplifier-too-")]
        self.assertEqual([(f["code"], f["about"]["output"]) for f in strong], [("amplifier-too-strong", 5)])
        self.assertIn("300 W", strong[0]["evidence"])
        self.assertIn("%.1f V" % math.sqrt(80 * 4), strong[0]["advice"])
        self.assertAlmostEqual(found["spl_db"], next(b["spl_db"] - min(b["headroom_db"], 0) for b in found["bands"] if b["hz"] == 1000)
                               + min(0, min(b["headroom_db"] for b in found["bands"])), delta=0.02)

    def test_steered_tune(self):
        """What is held stays as it was; budgets hold; three alternatives with their figures, any of which can be stored."""
        for output in self.tune["outputs"]:
            for section in output["sections"]:
                self.assertTrue(section["why"])
                if section["use"] == "correction" and section["kind"] != "all-pass":
                    # Its own numbers, where it was seen or that it was not, and what it is worth.
                    self.assertIn("%.0f Hz" % section["frequency_hz"], section["why"])
                    self.assertIn("%.1f dB" % abs(section["gain_db"]), section["why"])
                    self.assertRegex(section["why"], r"Leaving it out costs \d+\.\d\d dB$")
                    seen = re.search(r"Seen at (\d) of (\d) positions \(([\d, ]+)\)", section["why"])
                    self.assertEqual(bool(seen), section["kind"] == "peaking" and "for the sum" not in section["why"])
                    if seen:
                        self.assertEqual(int(seen[1]), len(seen[3].split(",")))
                        self.assertEqual(int(seen[2]), PLACES)
        names = [choice["name"] for choice in self.tune["alternatives"]]
        self.assertEqual(names, ["closest", "simplest", "steadiest"])
        for choice in self.tune["alternatives"]:
            keys_of(self, choice, {"name", "corrections", "side_db", "both_db", "match_db", "loss_db", "headroom_db"})
            self.assertLessEqual(choice["side_db"], self.tune["alternatives"][0]["side_db"] + (0.3 if choice["name"] == "simplest" else 3))
        shutil.copy(self.bench.path("car.cabin"), self.bench.path("steered.cabin"))
        outputs = {output["output"]: output for output in self.tune["outputs"]}
        again = self.bench.ask("tune", "steered.cabin", "--filters", 2, "--hold", "1:crossover,2:gain,2:delay,3:all", "--take", "simplest")
        self.assertEqual(again["chosen"], "simplest")
        self.assertIn("previous", [choice["name"] for choice in again["alternatives"]])
        crossovers = lambda output: [section for section in output["sections"] if section["use"] == "crossover"]
        for output in again["outputs"]:
            before = outputs[output["output"]]
            if output["output"] == 1:
                self.assertEqual(crossovers(output), crossovers(before))
            if output["output"] == 2:
                for key in ("gain_db", "delay_ms", "delay_samples"):
                    self.assertEqual(output[key], before[key])
            if output["output"] == 3:
                self.assertEqual(output, before)
            else:
                self.assertLessEqual(len(output["sections"]) - len(crossovers(output)), 2)
        levels = self.bench.ask("tune", "steered.cabin", "--only", "levels,delays")
        for output, before in zip(levels["outputs"], again["outputs"]):
            self.assertEqual(output["sections"], before["sections"])
        one = self.bench.ask("tune", "steered.cabin", "--outputs", 1)
        self.assertEqual(one["outputs"][1:], levels["outputs"][1:])
        for wrong in (("--hold", "1"), ("--hold", "1:colour"), ("--only", "sound"), ("--outputs", "x"), ("--take", "best"), ("--filters", "-3")):
            self.bench.fails("tune", "steered.cabin", *wrong, naming=(wrong[1],), code=2)
        self.bench.fails("tune", "steered.cabin", "--hold", "61:gain", naming=("61",))

    def test_report(self):
        said = self.bench.ask("report", "car.cabin", "--out", "report.pdf")
        with open(self.bench.path("table.json"), "rb") as file:
            checksum = hashlib.sha256(file.read()).hexdigest()
        self.assertEqual(said["table_sha256"], checksum)
        text = subprocess.run(["pdftotext", "-layout", self.bench.path("report.pdf"), "-"], check=True, capture_output=True, text=True).stdout
        for wanted in ["J-0147", "Alder Tourer", checksum, *(speaker.name for speaker in CAR), "wired in reverse", "inverted", "while driving"]:
            self.assertIn(wanted, text)
        for output in self.table["outputs"]:
            self.assertIn(f'{output["delay_ms"]:.2f} ms', text)

    def test_refit(self):
        """The same tune for an older processor: on its grid, with its count of filters, near what it was, and said by how much."""
        old = {"name": "Older", "sample_rate_hz": 48000, "sections_per_output": 5, "gain_db": [-40, 6], "section_gain_db": [-12, 6], "q": [0.5, 8],
               "delay_ms_most": 20, "delay_step_samples": 1, "frequency_steps_per_octave": 6, "gain_step_db": 0.5, "q_step": 0.1,
               "crossover_order_most": 4, "crossover_families": ["linkwitz-riley", "butterworth"]}
        with Copy(self.bench) as copy:
            copy.write("old.json", json.dumps(old))
            copy.write("sheet.json", json.dumps({"reference": "other", "processor": old}))
            cost = copy.ask("refit", "car.cabin", "--processor", "old.json", "--out", "old.cabin")
            self.assertEqual(cost, copy.ask("refit", "car.cabin", "--processor", "sheet.json", "--out", "same.cabin"))
            self.assertLess(cost["moved_side_db"], 1.2)
            self.assertLess(cost["after_side_db"], cost["before_side_db"] + cost["moved_side_db"] + 0.1)
            self.assertEqual(copy.ask("check", "old.cabin"), {"sound": True, "wrong": []})
            for output in copy.ask("show", "old.cabin")["tune"]["outputs"]:
                self.assertLessEqual(sum(section["use"] == "correction" for section in output["sections"]), 5)
                on_grid = lambda value, step: self.assertAlmostEqual(value / step, round(value / step), places=5)
                on_grid(output["gain_db"], 0.5)
                for section in output["sections"]:
                    on_grid(6 * math.log2(section["frequency_hz"] / 1000), 1)
                    if section["use"] == "correction":
                        on_grid(section["gain_db"], 0.5)
                        on_grid(section["q"], 0.1)
                    else:
                        self.assertLessEqual(section["order"], 4)
            copy.fails("refit", "car.cabin", "--processor", "old.json", "--out", "old.cabin", naming=("old.cabin", "already"))
            copy.write("wrong.json", json.dumps({**old, "q": [8, 0.5]}))
            copy.fails("refit", "car.cabin", "--processor", "wrong.json", "--out", "new.cabin", naming=("wrong.json", "q"))
            copy.fails("refit", "car.cabin", "--processor", "none.json", "--out", "new.cabin", naming=("none.json",))
            copy.fails("refit", "car.cabin", "--processor", "old.json", code=2)

    def test_unprotected(self):
        """A tweeter whose lowest safe frequency is found to be higher than it was tuned for."""
        with Copy(self.bench) as copy:
            sheet = json.loads(intake())
            for speaker in sheet["speakers"]:
                speaker["lowest_hz"] = 4000 if speaker["output"] == 1 else speaker["lowest_hz"]
            document = copy.ask("show", "car.cabin")
            self.assertNotIn("driver-unprotected", {finding["code"] for finding in document["findings"]})
            document["speakers"] = sheet["speakers"]
            copy.write("raised.json", json.dumps(document))
            copy.do("new", "raised.cabin", "raised.json")
            found = [finding for finding in copy.ask("findings", "raised.cabin")["findings"] if finding["code"] == "driver-unprotected"]
            self.assertEqual([(finding["about"], finding["severity"]) for finding in found], [({"output": 1}, "stop")])

    def test_check(self):
        for name in ("car.cabin", "table.json"):
            self.assertEqual(self.bench.ask("check", name), {"sound": True, "wrong": []})
        bad = json.loads(json.dumps(self.table))
        bad["outputs"][2]["sections"][1]["a"] = [1, -2.1, 1.2]
        self.bench.write("bad.json", json.dumps(bad))
        done = self.bench.run("check", "bad.json")
        self.assertEqual(done.returncode, 1)
        self.assertIn("outputs[2].sections[1]", done.stderr.decode())
        self.assertIn("unstable", done.stderr.decode())


class Copy(Bench):
    """A bench with a copy of another's project, for steps that change it."""

    def __init__(self, bench):
        super().__init__()
        with open(bench.path("car.cabin"), "rb") as file:
            self.write("car.cabin", file.read())

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()


def smooth(power, hz, octaves):
    at = np.arange(len(power)) * RATE_HZ / (2 * (len(power) - 1))
    return np.array([np.mean(power[(at >= f * 2 ** (-octaves / 2)) & (at <= f * 2 ** (octaves / 2))]) for f in hz])


def response_of(sections, rate_hz, hz):
    return signal.sosfreqz(np.array([section["b"] + section["a"] for section in sections]), worN=hz, fs=rate_hz)[1]


def design(section, rate_hz, hz):
    """The complex response of a section of the tune: crossovers by scipy.signal.butter, peaking, shelves and all-pass by the W3C
    Audio EQ Cookbook."""
    frequency_hz, order = section["frequency_hz"], section["order"]
    if section["use"] == "crossover":
        kind = {"low-pass": "lowpass", "high-pass": "highpass"}[section["kind"]]
        half = section["family"] == "linkwitz-riley"
        assert section["family"] in ("linkwitz-riley", "butterworth")
        sos = signal.butter(order // 2 if half else order, frequency_hz, kind, fs=rate_hz, output="sos")
        response = signal.sosfreqz(sos, worN=hz, fs=rate_hz)[1]
        return response ** 2 if half else response
    a, w = 10 ** (section["gain_db"] / 40), 2 * math.pi * frequency_hz / rate_hz
    alpha = math.sin(w) / (2 * section["q"])
    if section["kind"] == "all-pass":
        under = [1 + alpha, -2 * math.cos(w), 1 - alpha]
        return signal.freqz(under[::-1], under, worN=hz, fs=rate_hz)[1]
    if section["kind"] in ("low-shelf", "high-shelf"):
        side = 1 if section["kind"] == "low-shelf" else -1
        cos, root = math.cos(w), 2 * math.sqrt(a) * alpha
        b = [a * ((a + 1) - side * (a - 1) * cos + root), side * 2 * a * ((a - 1) - side * (a + 1) * cos),
             a * ((a + 1) - side * (a - 1) * cos - root)]
        return signal.freqz(b, [(a + 1) + side * (a - 1) * cos + root, -side * 2 * ((a - 1) + side * (a + 1) * cos),
                                (a + 1) + side * (a - 1) * cos - root], worN=hz, fs=rate_hz)[1]
    assert section["kind"] == "peaking"
    b = [1 + alpha * a, -2 * math.cos(w), 1 - alpha * a]
    return signal.freqz(b, [1 + alpha / a, -2 * math.cos(w), 1 - alpha / a], worN=hz, fs=rate_hz)[1]


if __name__ == "__main__":
    cli_bench.main(__name__)
