# SPDX-License-Identifier: GPL-3.0-or-later
"""Recordings as they come: sample rates, widths, one channel; and bad conditions, in which accuracy may fall and a verdict may become unknown, but
none may be wrong."""
import subprocess
import unittest

import numpy as np
from scipy import fft

import radio_bench as bench
import radios


class Formats(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.bench = bench.Bench()
        cls.addClassCleanup(cls.bench.close)
        cls.radio = radios.door_radio()

    def survey(self, samples, numbers=(1, 2), **more):
        survey, _ = self.bench.survey([self.bench.listed("leads", list(numbers), samples, **more)])
        self.assertIsInstance(survey, dict, survey)
        return survey

    def check(self, survey, numbers=(1, 2), delay_ms=0.01, ppm=0.05, unknown=False, radio=None):
        radio = radio or self.radio
        if survey["player_ppm"] is not None:
            self.assertAlmostEqual(survey["player_ppm"], radio.player_ppm, delta=ppm)
        for number in numbers:
            lead, found = radio.leads[number - 1], bench.lead_of(survey, number)
            for key, truth in (("side", lead.side), ("band", lead.band), ("polarity", "inverted" if lead.inverted else "normal")):
                self.assertIn(found[key], (truth, None) if unknown else (truth,), (number, key))
            self.assertFalse(found["all_pass"] and not lead.all_pass, number)
            if found["delay_ms"] is not None or not unknown:
                self.assertAlmostEqual(found["delay_ms"], lead.delay_ms, delta=delay_ms)

    def test_rates(self):
        for rate_hz in (44100, 48000, 88200, 96000):
            with self.subTest(rate_hz=rate_hz):
                survey = self.survey(self.bench.record(self.radio, "leads", [1, 2], rate_hz=rate_hz), rate_hz=rate_hz)
                self.check(survey)

    def test_widths(self):
        samples = self.bench.record(self.radio, "leads", [1, 2])
        results = [self.survey(samples, form=form) for form in ("24", "16", "32", "float")]
        for survey in results:
            self.check(survey)
            for number in (1, 2):
                told, first = (np.array([np.nan if db is None else db for _, db in bench.lead_of(s, number)["response"]]) for s in (survey, results[0]))
                both = np.isfinite(told) & np.isfinite(first)
                self.assertGreater(both.sum(), 100)
                self.assertLess(np.abs(told - first)[both].max(), 0.2)

    def test_looping_player(self):
        """The player repeats the track; the recording begins in the middle of one round and ends in the middle of another."""
        track = self.bench.track("leads")
        samples = self.radio.record(np.vstack([track, track, track]), [1, 2])
        rate_hz = 48000
        survey = self.survey(samples[int(0.6 * len(track) / bench.TRACK_RATE_HZ * rate_hz):-int(0.4 * len(track) / bench.TRACK_RATE_HZ * rate_hz)])
        self.check(survey)

    def test_tracks(self):
        """Short, soft but for the last tones, stereo; the printed list names every take; at any rate that a radio plays."""
        self.assertLess(sum(next(t["seconds"] for t in self.bench.index["tracks"] if t["file"] == take["track"]) for take in self.bench.index["takes"]), 240)
        text = subprocess.run(["pdftotext", "-layout", self.bench.path("tracks/tracks.pdf"), "-"], capture_output=True, text=True, check=True).stdout
        with open(self.bench.path("tracks/tracks.txt"), encoding="utf-8") as file:
            plain = file.read()
        for take in self.bench.index["takes"]:
            self.assertLessEqual(np.abs(self.bench.track(take["id"])).max(), 1)
            if take["id"] != "loud":
                self.assertLess(np.abs(self.bench.track(take["id"])).max(), 10 ** (-11.5 / 20))
            for listed in (text, plain):
                self.assertIn(take["track"], listed)
                self.assertIn(take["why"].split(":")[0].split(",")[0], " ".join(listed.split()))
        self.assertEqual(self.bench.run("tracks", self.bench.path("other"), "--rate", "22050").returncode, 1)
        self.assertEqual(self.bench.run("tracks", self.bench.path("other"), "--rate", "48000").returncode, 0)

    def test_one_channel(self):
        survey = self.survey(self.bench.record(self.radio, "leads", [2]), numbers=(2,))
        found = bench.lead_of(survey, 2)
        self.assertEqual((found["side"], found["band"], found["polarity"], found["delay_ms"]), ("right", "full", "inverted", 0))

    def test_track_through_a_lossy_codec(self):
        """The player's track ends at 16 kHz, steeply: a band edge there, and nothing wrong below it."""
        track = self.bench.track("leads")
        spectrum = fft.rfft(track, axis=0)
        hz = fft.rfftfreq(len(track), 1 / bench.TRACK_RATE_HZ)
        spectrum *= (1 / (1 + np.exp((hz - 16000) / 60)))[:, None]
        survey = self.survey(self.radio.record(fft.irfft(spectrum, len(track), axis=0), [1, 2]))
        self.check(survey, delay_ms=0.025)
        for number in (1, 2):
            high = bench.lead_of(survey, number)["high_hz"]
            self.assertLess(abs(np.log2(high / 16000)), 1 / 12)
        self.assertLess(survey["correction"]["flatness_db"], 1.5)
        self.assertLess(survey["correction"]["high_hz"], 17000)

    def test_heavy_hum(self):
        """As loud as the signal at its softest: it is taken off."""
        survey = self.survey(self.bench.record(self.radio, "leads", [1, 2], hum_v=0.8))
        self.check(survey)
        self.assertIn("lead-hum", bench.codes(survey))
        for number in (1, 2):
            self.assertAlmostEqual(bench.lead_of(survey, number)["hum_dbv"], 20 * np.log10(0.8 * np.sqrt(1 + 0.09) / np.sqrt(2)), delta=0.5)
            told = {round(at): db for at, db in bench.lead_of(survey, number)["response"]}
            self.assertAlmostEqual(told[50] if 50 in told else told[51], self.radio.truth_db(number, [50.4])[0] + self.level(number), delta=1.0)

    def level(self, number):
        return 20 * np.log10(self.radio.full_scale_v / np.sqrt(2)) + bench.STEP_DB * (bench.SURVEY_STEP - bench.TOP_STEP) + self.radio.leads[number - 1].gain_db

    def test_noise(self):
        """Noise 20 dB below the sweeps: nothing wrong may be said, and at 40 dB all must be."""
        clean = self.bench.record(self.radio, "leads", [1, 2], noise_v=0, hum_v=0) * bench.VOLTS_PER_FULL_SCALE
        rms = np.sqrt(np.mean(clean[np.abs(clean) > 0.01] ** 2))
        for seed in (1, 2):
            survey = self.survey(self.bench.record(self.radio, "leads", [1, 2], noise_v=rms / 10, seed=seed))
            self.check(survey, delay_ms=0.1, ppm=1, unknown=True)
        self.check(self.survey(self.bench.record(self.radio, "leads", [1, 2], noise_v=rms / 100)), delay_ms=0.025)

    def test_noise_on_every_kind_of_lead(self):
        radio = radios.mixed_radio()
        clean = self.bench.record(radio, "leads", [1, 2, 3, 4], noise_v=0, hum_v=0) * bench.VOLTS_PER_FULL_SCALE
        rms = np.sqrt(np.mean(clean[np.abs(clean) > 0.01] ** 2))
        survey = self.survey(self.bench.record(radio, "leads", [1, 2, 3, 4], noise_v=rms / 10), numbers=(1, 2, 3, 4))
        for number in (1, 2, 3, 4):
            lead, found = radio.leads[number - 1], bench.lead_of(survey, number)
            for key, truth in (("side", lead.side), ("band", lead.band), ("polarity", "inverted" if lead.inverted else "normal")):
                self.assertIn(found[key], (truth, None), (number, key))
            self.assertFalse(found["all_pass"] and not lead.all_pass, number)


if __name__ == "__main__":
    bench.main(__name__)
