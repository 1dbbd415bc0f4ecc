# SPDX-License-Identifier: GPL-3.0-or-later
"""Factory radios with troubles: what radio_bench plays, and besides what radios, recorders and hands do wrong; and the judge of what the survey
said of it. Everything is computed with numpy and scipy; nothing of the program is in it."""
import copy
import math
import re

import numpy as np
from scipy import fft, signal

import radio_bench as bench

RATE_HZ = 48000
START_S = 0.9
STEPS = {"leads": bench.SURVEY_STEP, "front": bench.SURVEY_STEP, "rear": bench.SURVEY_STEP, "quiet": bench.QUIET_STEP, "loud": bench.TOP_STEP}
FADER = {"front": -1.0, "rear": 1.0}
SWEEPS = {"leads": ((1.1, 5, 1.2), (12.92, 5, 1.2)), "front": ((1.1, 10, 0.4),), "rear": ((1.1, 10, 0.5),), "quiet": ((1.1, 10, 0.6),), "loud": ((1.1, 10, 0.7),)}


def sweep_passes(take, hz, which=0):
    """When the take's sweep is at a frequency, seconds of the recording."""
    at, start_hz, growth = SWEEPS[take][which]
    return START_S + at + growth * math.log(hz / start_hz)


def set_play(take):
    return {"step": STEPS[take], "fader": FADER.get(take, 0.0), "balance": 0.0, "bass_db": 0.0}


class TroubledRadio(bench.Radio):
    """mix: lead -> list of (low_hz, high_hz, a, b): what it plays of left and right in a band, split by linear-phase filters; steer: leads that lose so many
    dB when the channels differ; limit_v: lead volts at which a limiter begins, with ratio; zero_phase: lead -> peaks (hz, dB, Q) without phase."""
    mix, steer, limit_v, limit_ratio, zero_phase = {}, {}, None, 20.0, {}

    def __init__(self, leads, **more):
        super().__init__(leads, **more)
        self._sound = {}

    def source(self, track, number, play):
        lead = self.leads[number - 1]
        left = track[:, 0] * min(1, 1 - play["balance"])
        right = track[:, 1] * min(1, 1 + play["balance"])
        if number in self.mix:
            hz = fft.rfftfreq(len(track), 1 / bench.TRACK_RATE_HZ)
            spectrum = np.zeros(len(hz), complex)
            for low, high, a, b in self.mix[number]:
                # Complementary raised-cosine slopes, half an octave wide, over log frequency.
                rise = np.clip(np.log2(np.maximum(hz, 1e-3) / max(low, 1e-3)) * 2 + 0.5, 0, 1)
                fall = np.clip(np.log2(np.maximum(hz, 1e-3) / high) * 2 + 0.5, 0, 1)
                window = np.sin(0.5 * np.pi * rise) ** 2 * np.cos(0.5 * np.pi * fall) ** 2
                spectrum += window * fft.rfft(a * left + b * right)
            x = fft.irfft(spectrum, len(track))
        else:
            x = {"left": left, "right": right, "both": 0.5 * (left + right)}[lead.side]
        if number in self.steer:
            x = x * self.steer_gain(track, self.steer[number])
        faded = 1 - max(0, play["fader"]) if lead.end == "front" else 1 + min(0, play["fader"]) if lead.end == "rear" else 1
        return x * faded

    @staticmethod
    def steer_gain(track, db):
        """Full where the channels are alike, db less where one is alone, by their correlation over 40 ms."""
        span = int(0.04 * bench.TRACK_RATE_HZ)
        mean = lambda v: signal.lfilter(np.ones(span) / span, 1, v)  # noqa: E731
        cross, power = mean(track[:, 0] * track[:, 1]), 0.5 * (mean(track[:, 0] ** 2) + mean(track[:, 1] ** 2))
        alike = np.clip(cross / (power + 1e-9), 0, 1)
        return 10 ** (-db * (1 - alike) / 20)

    def limit(self, v):
        """A limiter: level by the peak over 5 ms, falling with 150 ms."""
        block = int(0.005 * bench.TRACK_RATE_HZ)
        count = -(-len(v) // block)
        peaks = np.abs(np.pad(v, (0, count * block - len(v)))).reshape(count, block).max(axis=1)
        level = np.empty(count)
        held = 0.0
        for i, p in enumerate(peaks):
            held = max(p, held * math.exp(-0.005 / 0.15))
            level[i] = held
        gain = np.where(level > self.limit_v, (level / self.limit_v) ** (1 / self.limit_ratio - 1), 1.0)
        return v * np.interp(np.arange(len(v)), (np.arange(count) + 0.5) * block, np.minimum(gain, np.r_[gain[1:], gain[-1]]))

    def played(self, track, number, play, take):
        """Volts at the recorder, without noise and hum."""
        key = (take, number, tuple(sorted(play.items())))
        if key in self._sound:
            return self._sound[key]
        lead, rate = self.leads[number - 1], bench.TRACK_RATE_HZ
        finer = 4 if take == "loud" else 2
        x = self.source(track, number, play)
        count = fft.next_fast_len(len(x) + rate // 2, real=True)
        hz = fft.rfftfreq(count, 1 / rate)
        h = bench.response(self.filters(number, play["step"]) + ([bench.bass_lift(110, play["bass_db"])] if play["bass_db"] else []), hz)
        for at, db, q in self.zero_phase.get(number, ()):
            h = h * np.abs(bench.response([bench.peak(at, db, q)], hz))
        gain = self.full_scale_v * 10 ** ((lead.gain_db + bench.STEP_DB * (play["step"] - bench.TOP_STEP)) / 20) * (-1 if lead.inverted else 1)
        spectrum = fft.rfft(x, count) * h * gain
        if self.limit_v:
            spectrum = fft.rfft(self.limit(fft.irfft(spectrum, count)), count)
        spectrum = spectrum * np.exp(-2j * np.pi * hz * lead.delay_ms * 1e-3)
        v = fft.irfft(np.r_[spectrum[:-1], np.zeros(finer * count // 2 + 1 - len(spectrum) + 1)], finer * count) * finer
        v = np.clip(v, -self.rail_v, self.rail_v).astype(np.float32)
        real_hz = rate * (1 + self.player_ppm * 1e-6)
        frames = int((START_S + len(track) / real_hz + 0.6) * RATE_HZ)
        self._sound[key] = bench.between(v, (np.arange(frames) / RATE_HZ - START_S) * real_hz * finer).astype(np.float32)
        return self._sound[key]

    def take(self, track, take, numbers, play, seed):
        """Samples before the recorder's own input: volts."""
        rng = np.random.default_rng(seed)
        out = np.stack([self.played(track, n, play, take) for n in numbers], axis=1).astype(float)
        t = np.arange(len(out)) / RATE_HZ
        for c, n in enumerate(numbers):
            out[:, c] += rng.normal(0, self.leads[n - 1].noise_v, len(out))
            out[:, c] += self.hum_v * (np.sin(2 * np.pi * 50.03 * t + n) + 0.3 * np.sin(2 * np.pi * 150.09 * t))
        return out

    def changed(self, **more):
        """A radio like this one with something else about it: nothing that it played before counts."""
        other = copy.copy(self)
        other.leads = [copy.copy(lead) for lead in self.leads]
        other._sound = {}
        for key, value in more.items():
            setattr(other, key, value)
        return other


class Session:
    """What is recorded of a radio: takes with their plays, to be changed before, and the recordings, to be changed after."""

    def __init__(self, bench_folder, radio, seed=1):
        self.folder, self.radio, self.seed = bench_folder, radio, seed
        self.numbers = list(range(1, len(radio.leads) + 1))
        self.takes = ["leads", "front", "rear", "quiet", "loud"]
        self.play = {take: set_play(take) for take in self.takes}
        self.noted = {take: STEPS[take] for take in self.takes}
        self.order = {take: list(self.numbers) for take in self.takes}  # the lead that each channel really holds
        self.before, self.after = {}, {}  # volts before the coupling of the recorder, samples after it
        self.form = "24"
        self.full_volts = {take: bench.VOLTS_PER_FULL_SCALE for take in self.takes}

    def recordings(self):
        couple = signal.butter(1, 2.0, "high", fs=RATE_HZ, output="sos")
        for i, take in enumerate(self.takes):
            x = self.radio.take(self.folder.track(take), take, self.order[take], self.play[take], self.seed * 100 + i)
            x = self.before[take](x) if take in self.before else x
            x = signal.sosfilt(couple, x, axis=0) / self.full_volts[take]
            yield take, self.after[take](x) if take in self.after else x

    def listed(self):
        entries = []
        for take, x in self.recordings():
            entry = self.folder.listed(take, self.numbers, x, RATE_HZ, self.form, name=f"trouble-{take}.wav")
            entry["volume_step"] = self.noted[take]
            entries.append(entry)
        return entries


# --- the judge ------------------------------------------------------------------------------------------------------------------

AT_HZ = 20 * 2 ** (np.arange(120) / 12)


def truth_response(radio, number):
    lead = radio.leads[number - 1]
    gain = radio.full_scale_v * 10 ** ((lead.gain_db + bench.STEP_DB * (bench.SURVEY_STEP - bench.TOP_STEP)) / 20)
    h = np.abs(bench.response(radio.filters(number, bench.SURVEY_STEP), AT_HZ))
    for at, db, q in radio.zero_phase.get(number, ()):
        h = h * np.abs(bench.response([bench.peak(at, db, q)], AT_HZ))
    return 20 * np.log10(gain * h / math.sqrt(2) + 1e-9)


def doubted(record, *keys):
    return any(key in (record.get("doubtful") or ()) for key in keys)


def wrong_of_lead(radio, number, found, earliest, spread):
    lead, wrong = radio.leads[number - 1], []
    want = {"side": lead.side, "end": lead.end, "band": lead.band, "polarity": "inverted" if lead.inverted else "normal"}
    for key, value in want.items():
        if found.get(key) not in (None, value) and not doubted(found, key):
            wrong.append(f"{number}.{key}={found[key]}")
    if number in radio.mix and found.get("side") and not doubted(found, "side"):
        wrong.append(f"{number}.side={found['side']}")
    if bool(found["all_pass"]) != lead.all_pass and found.get("delay_ms") is not None and not doubted(found, "delay", "all_pass"):
        wrong.append(f"{number}.all_pass={found['all_pass']}")
    if found.get("delay_ms") is not None and not doubted(found, "delay"):
        late = 1000 * (found["delay_ms"] - spread - (lead.delay_ms - earliest))
        if abs(late) > max(25 if lead.all_pass else 10, 3000 * (found.get("delay_deviation_ms") or 0)):
            wrong.append(f"{number}.delay{late:+.0f}us")
    db = truth_response(radio, number)
    told = np.array([np.nan if row[1] is None else row[1] for row in found.get("response") or [[0, None]] * 120])
    use = (db > db.max() - 20) & (AT_HZ > 25) & (AT_HZ < 18000) & ~np.isnan(told)
    if use.any() and not number in radio.mix:
        off = np.median(told[use] - db[use])
        if abs(off) > 0.4 and not doubted(found, "level"):
            wrong.append(f"{number}.level{off:+.1f}dB")
        apart = np.abs(told[use] - db[use] - off).max()
        if apart > 0.4 and not doubted(found, "response"):
            wrong.append(f"{number}.response{apart:.1f}dB")
    return wrong


def clean_step(radio):
    """The highest step at which no tone of the loud take reaches the rail by so much that 1 % is distortion, and no limiter acts."""
    tones = [113, 1013, 5987]
    best = bench.TOP_STEP
    for number, lead in enumerate(radio.leads, 1):
        size = radio.full_scale_v * 10 ** (lead.gain_db / 20) * np.abs(bench.response(radio.filters(number, bench.TOP_STEP), tones)).max()
        over = 20 * np.log10(size / min(1.022 * radio.rail_v, radio.limit_v or 1e9))
        best = min(best, bench.TOP_STEP - math.ceil(over / bench.STEP_DB - 0.02))
    return best


def wrong_figures(radio, survey, top_step=bench.TOP_STEP):
    wrong = []
    found = {lead["lead"]: lead for lead in survey["leads"]}
    delays = {n: lead["delay_ms"] for n, lead in found.items() if lead.get("delay_ms") is not None and not doubted(lead, "delay")}
    true = {n: radio.leads[n - 1].delay_ms for n in delays}
    earliest = min(true.values(), default=0)
    spread = np.median([delays[n] - true[n] for n in delays]) + earliest if delays else 0
    for number, lead in found.items():
        wrong += wrong_of_lead(radio, number, lead, earliest, spread)
    if survey.get("player_ppm") is not None and abs(survey["player_ppm"] - radio.player_ppm) > 0.05 and not doubted(survey, "player_ppm"):
        wrong.append(f"ppm{survey['player_ppm'] - radio.player_ppm:+.2f}")
    if survey["loudness_found"] != bool(radio.lift) and not doubted(survey, "loudness"):
        wrong.append(f"loudness={survey['loudness_found']}")
    step = survey.get("clean_volume_step")
    if step is not None and not doubted(survey, "clean_volume_step") and step != min(clean_step(radio), top_step):
        wrong.append(f"clean={step} not {min(clean_step(radio), top_step)}")
    clips = [lead["clip_dbfs"] for lead in survey["leads"] if lead.get("clip_dbfs") is not None and not doubted(lead, "clip")]
    first = (clean_step(radio) - bench.TOP_STEP) * bench.STEP_DB
    if clips and min(clips) < first - 1.2:
        wrong.append(f"clip{min(clips):.1f} not {first:.1f}")
    return wrong


def verdict(radio, survey, causes, usual, top_step=bench.TOP_STEP):
    """right, told, other, refused or silent, and what was wrong and said. usual: the codes that the radio itself earns."""
    pattern = re.compile("|".join(causes))
    if isinstance(survey, str):
        return ("told" if pattern.search(survey) else "refused"), survey.strip()[-200:]
    said = {(f["code"], f["text"] + " " + f["evidence"]) for f in survey["findings"] if f["code"] not in usual or f["code"] == "take-refused"}
    wrong = wrong_figures(radio, survey, top_step)
    trouble = sorted({code for code, _ in said})
    text = f"{', '.join(wrong)} | {', '.join(trouble)}"
    if any(pattern.search(code) or pattern.search(words) for code, words in said):
        return "told", text
    if not wrong:
        return "right", text
    return ("other" if trouble else "silent"), text
