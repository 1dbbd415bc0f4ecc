# SPDX-License-Identifier: GPL-3.0-or-later
"""Recordings that went wrong: each is told, in a sentence that names it, and the rest of the survey stands. Where nothing can be said, nothing is."""
import json
import unittest

import numpy as np

import radio_bench as bench
import radios

RATE_HZ = 48000


class Faults(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.bench = bench.Bench()
        cls.addClassCleanup(cls.bench.close)
        cls.radio = radios.door_radio()
        cls.leads = cls.bench.record(cls.radio, "leads", [1, 2])
        cls.front = cls.bench.record(cls.radio, "front", [1, 2], seed=2)
        cls.quiet = cls.bench.record(cls.radio, "quiet", [1, 2], seed=3)

    def listed(self, take, samples, numbers=(1, 2), **more):
        return self.bench.listed(take, list(numbers), samples, name=f"{self.id().split('.')[-1]}-{take}.wav", **more)

    def sound_leads(self):
        return self.bench.listed("leads", [1, 2], self.leads)

    def check_stands(self, survey):
        """The leads are known as if nothing had happened."""
        for number in (1, 2):
            lead, found = self.radio.leads[number - 1], bench.lead_of(survey, number)
            self.assertEqual(found["side"], lead.side)
            self.assertEqual(found["polarity"], "inverted" if lead.inverted else "normal")
            self.assertFalse(found["all_pass"])

    def told(self, listed, *words):
        """A survey in which one recording is left out, with a finding that names it and holds the words."""
        survey, _ = self.bench.survey([self.sound_leads(), listed])
        self.assertTrue(isinstance(survey, dict), survey)
        self.check_stands(survey)
        evidence = bench.refused(survey)
        self.assertEqual(len(evidence), 1, evidence)
        for word in (listed["recording"],) + words:
            self.assertIn(word, evidence[0])
        return survey

    def refused(self, listed, *words):
        """The only take of the leads is of no use: one line that says so, exit 1, and no survey in the project."""
        said, car = self.bench.survey([listed])
        self.assertTrue(isinstance(said, str), "a survey came of it")
        self.assertEqual(said.count("\n"), 1, said)
        for word in words:
            self.assertIn(word, said)
        self.assertNotIn("lead", self.bench.run("findings", car).stdout)

    def test_leads_left_out(self):
        """A lead left out is in no input and comes back the same; one that is not there is told, and nothing changes."""
        def inputs(*options):
            done = self.bench.run("survey", car, *options, "--json")
            self.assertEqual(done.returncode, 0, done.stderr)
            vehicle = json.loads(self.bench.run("show", car, "--json").stdout)
            return {entry["lead"]: entry for entry in vehicle["tune"]["inputs"]}
        _, car = self.bench.survey([self.sound_leads()])
        whole = inputs("--redo", 1)
        self.assertEqual(sorted(whole), [1, 2])
        self.assertEqual(sorted(inputs("--leave-out", 2)), [1])
        done = self.bench.run("survey", car, "--redo", 2)
        self.assertEqual((done.returncode, done.stderr.count("\n")), (1, 1), done.stderr)
        self.assertEqual(inputs("--take-in", 2), whole)
        done = self.bench.run("survey", car, "--leave-out", 3)
        self.assertEqual((done.returncode, done.stderr), (1, "lead 3: the survey has no such lead\n"))

    def test_wrong_track(self):
        self.told(self.listed("quiet", self.front), "\"front\"", "\"quiet\"")
        self.refused(self.listed("leads", self.front), "\"front\"", "\"leads\"")

    def test_two_takes_swapped(self):
        survey, _ = self.bench.survey([self.sound_leads(), self.listed("front", self.quiet), self.listed("quiet", self.front)])
        self.check_stands(survey)
        self.assertEqual(len(bench.refused(survey)), 2, bench.refused(survey))
        for line in bench.refused(survey):
            self.assertIn("mixed up", line)
        self.assertFalse(survey["loudness_found"])

    def test_cut_at_either_end(self):
        self.told(self.listed("front", self.front[int(2.0 * RATE_HZ):]), "begins after")
        self.told(self.listed("front", self.front[:-int(1.6 * RATE_HZ)]), "ends before")
        self.refused(self.listed("leads", self.leads[int(4 * RATE_HZ):]), "begins after")
        self.refused(self.listed("leads", self.leads[:-int(3 * RATE_HZ)]), "ends before")

    def test_volume_changed_half_way(self):
        turned = self.leads.copy()
        turned[len(turned) // 2:] *= 10 ** (-1.5 / 20)
        self.refused(self.listed("leads", turned), "level changed by", "-1.5")
        turned = self.front.copy()
        turned[len(turned) // 2:] *= 10 ** (1.0 / 20)
        self.told(self.listed("front", turned), "level changed by")

    def test_paused(self):
        half = len(self.leads) // 2
        paused = np.vstack([self.leads[:half], np.zeros((int(0.35 * RATE_HZ), 2)), self.leads[half:]])
        self.refused(self.listed("leads", paused), "paused")
        half = len(self.front) // 2
        self.told(self.listed("front", np.vstack([self.front[:half], np.zeros((int(0.2 * RATE_HZ), 2)), self.front[half:]])), "paused")

    def test_clipped_interface(self):
        self.refused(self.listed("leads", np.clip(2 * self.leads / np.abs(self.leads).max(), -1, 1)), "full scale", "lower its gain")

    def test_one_lead_disconnected(self):
        alone = self.leads.copy()
        alone[:, 1] = np.random.default_rng(5).normal(0, 1e-5, len(alone))
        survey, _ = self.bench.survey([self.listed("leads", alone)])
        found = bench.lead_of(survey, 2)
        for key in ("side", "end", "band", "polarity", "delay_ms", "level_dbv"):
            self.assertIsNone(found[key], key)
        self.assertIn(("lead-silent", 2), {(f["code"], f["about"].get("lead")) for f in survey["findings"]})
        self.assertEqual(bench.lead_of(survey, 1)["side"], "left")
        self.assertEqual([entry["lead"] for entry in survey["correction"]["inputs"]], [1])

    def test_nothing_but_noise(self):
        noise = np.random.default_rng(6).normal(0, 1e-3, self.leads.shape)
        self.refused(self.listed("leads", noise), "none of the test tracks")
        self.refused(self.listed("leads", np.zeros_like(noise)), "none of the test tracks")

    def test_recording_missing(self):
        """A recording that is not there, or is no sound, or has other channels than the list says: the rest is surveyed, stored and printed, and
        the exit says that the list asked for more. One that is merely unfit for use is a finding, and no fault of the list."""
        with open(self.bench.path("text.wav"), "w", encoding="utf-8") as file:
            file.write("no sound")
        front = self.listed("front", self.front)
        for wrong, named in (({**front, "recording": "absent.wav"}, "absent.wav"), ({**front, "recording": "text.wav"}, "text.wav"),
                             ({**front, "leads": [1, 2, 3]}, "2 channels")):
            _, car = self.bench.survey([self.sound_leads()])
            with open(self.bench.path("takes.json"), "w", encoding="utf-8") as file:
                json.dump({"takes": [self.sound_leads(), wrong], "volts_per_full_scale": 25.0}, file)
            done = self.bench.run("survey", car, "takes.json", "--json")
            self.assertEqual(done.returncode, 1, done.stderr)
            self.assertIn(named, done.stderr.splitlines()[0])
            self.assertIn("takes.json: 1 of its recordings", done.stderr.splitlines()[-1])
            survey = json.loads(done.stdout)
            self.check_stands(survey)
            self.assertEqual(len(bench.refused(survey)), 1)
            self.assertEqual(json.loads(self.bench.run("show", car, "--json").stdout)["survey"]["refused"], survey["refused"])

    def test_wrong_channels(self):
        self.refused(self.listed("leads", self.leads, numbers=(1, 2, 3)), "2 channels", "3 leads")

    def test_an_end_of_the_fader_in_which_nothing_plays(self):
        """Both leads are front leads: silence at the rear tells so. If the front's take is missing too, nothing is told."""
        silence = np.random.default_rng(7).normal(0, 1e-5, (int(20 * RATE_HZ), 2))
        survey, _ = self.bench.survey([self.sound_leads(), self.listed("front", self.front), self.listed("rear", silence)])
        self.assertEqual([bench.lead_of(survey, n)["end"] for n in (1, 2)], ["front", "front"])
        self.assertIn("fader-silences-all", bench.codes(survey))
        survey, _ = self.bench.survey([self.sound_leads(), self.listed("rear", silence)])
        self.assertEqual([bench.lead_of(survey, n)["end"] for n in (1, 2)], [None, None])
        self.assertEqual(len(bench.refused(survey)), 1)

    def test_fader_not_turned(self):
        """In the rear's take the fader stood in the middle: the rear lead is known by the front's take, the front lead's end is not told."""
        radio, numbers = radios.mixed_radio(), [2, 3]
        takes = [self.bench.listed("leads", numbers, self.bench.record(radio, "leads", numbers)), self.bench.listed("front", numbers, self.bench.record(radio, "front", numbers))]
        unturned = radio.record(self.bench.track("rear"), numbers, seed=4)
        survey, _ = self.bench.survey(takes + [self.bench.listed("rear", numbers, unturned)])
        self.assertEqual([bench.lead_of(survey, n)["end"] for n in numbers], [None, "rear"])
        self.assertEqual(len(bench.refused(survey)), 1)
        self.assertIn("\"rear\"", bench.refused(survey)[0])
        self.assertIn("fader", bench.refused(survey)[0])

    def test_volume_not_turned(self):
        """A quiet take as loud as the survey's says nothing of the bass lift that this radio has."""
        radio, numbers = radios.mixed_radio(), [3]
        leads = self.bench.listed("leads", numbers, self.bench.record(radio, "leads", numbers))
        unturned = radio.record(self.bench.track("quiet"), numbers, seed=4)
        survey, _ = self.bench.survey([leads, self.bench.listed("quiet", numbers, unturned)])
        self.assertFalse(survey["loudness_found"])
        self.assertEqual(len(bench.refused(survey)), 1)
        self.assertIn("\"quiet\"", bench.refused(survey)[0])
        survey, _ = self.bench.survey([leads, self.bench.listed("quiet", numbers, self.bench.record(radio, "quiet", numbers))])
        self.assertTrue(survey["loudness_found"])
        self.assertEqual(bench.refused(survey), [])

    def test_two_clips_on_one_lead(self):
        same = self.leads[:, [0, 1, 0]] + np.random.default_rng(9).normal(0, 1e-5, (len(self.leads), 3))
        survey, _ = self.bench.survey([self.listed("leads", same, numbers=(1, 2, 3))])
        self.assertIn(("leads-alike", 3), {(f["code"], f["about"].get("lead")) for f in survey["findings"]})

    def test_track_not_played_at_one_end(self):
        """A radio with rear leads, and a rear take in which nobody pressed play: the rear leads must have been heard, so nothing is told of it."""
        radio = radios.mixed_radio()
        numbers = [1, 3]
        front = self.bench.record(radio, "front", numbers)
        silence = np.random.default_rng(8).normal(0, 1e-5, (int(20 * RATE_HZ), 2))
        survey, _ = self.bench.survey([self.bench.listed("leads", numbers, self.bench.record(radio, "leads", numbers)), self.bench.listed("front", numbers, front),
                                       self.bench.listed("rear", numbers, silence)])
        self.assertEqual([bench.lead_of(survey, n)["end"] for n in numbers], [None, None])
        self.assertEqual(len(bench.refused(survey)), 1)


if __name__ == "__main__":
    bench.main(__name__)
