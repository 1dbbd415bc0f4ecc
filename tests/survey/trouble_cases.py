# SPDX-License-Identifier: GPL-3.0-or-later
"""The troubles: each changes a session before or after it is recorded. A case is (class, name, what a finding on the right cause matches, function)."""
import numpy as np

import radio_bench as bench
from radio_bench import Lead, high_pass, low_pass, peak, twice, all_pass
from trouble_bench import RATE_HZ, START_S, TroubledRadio, sweep_passes

CASES = []


def case(group, name, *causes, **more):
    def add(function):
        CASES.append((group, name, causes, function, more))
        return function
    return add


# --- the radios; invented ---------------------------------------------------------------------------------------------------------

def four_doors():
    return TroubledRadio([
        Lead("left", "front", "full", [high_pass(41), peak(120, 3.5, 1.1), peak(950, -3.2, 1.4), peak(5200, 4.1, 1.2)]),
        Lead("right", "front", "full", [high_pass(41), peak(120, 3.5, 1.1), peak(1050, -2.7, 1.5), peak(5200, 4.1, 1.2)], gain_db=-0.7, inverted=True),
        Lead("left", "rear", "full", [high_pass(66), peak(2500, -3.7, 1.9)], gain_db=-3.1, delay_ms=4.31),
        Lead("right", "rear", "full", [high_pass(75), peak(2500, -3.7, 1.9), peak(300, 1.2, 2.0)], gain_db=-2.3, delay_ms=4.31),
    ], player_ppm=37.0, full_scale_v=18.0)


def two_way_front():
    leads = []
    for side, off in (("left", 1.0), ("right", 1.05)):
        leads += [Lead(side, "front", "high", [twice(high_pass(4561)), peak(9000 * off, -2.4, 1.5)], gain_db=2.5),
                  Lead(side, "front", "low", [high_pass(48), twice(low_pass(4561)), peak(1400 * off, 2.8, 1.3)], gain_db=0.5, delay_ms=0.29)]
    leads += [Lead("left", "rear", "full", [high_pass(62), peak(240, 2.8, 1.5), all_pass(1150, 0.8)], gain_db=-2.1, inverted=True, all_pass=True),
              Lead("right", "rear", "full", [high_pass(58), peak(240, 2.8, 1.5)], gain_db=-2.8)]
    return TroubledRadio(leads, player_ppm=-74.0, lift=(90, 0.7, 23))


def centre_and_bass():
    return TroubledRadio([
        Lead("left", "front", "full", [high_pass(55), peak(700, -2.5, 1.2)], delay_ms=0.183),
        Lead("right", "front", "full", [high_pass(55), peak(740, -2.5, 1.2)], delay_ms=0.183),
        Lead("left", "rear", "full", [high_pass(80), peak(3600, 2.9, 1.7)], gain_db=-4.0, delay_ms=9.6),
        Lead("right", "rear", "full", [high_pass(90), peak(3600, 2.9, 1.7)], gain_db=-4.4, delay_ms=9.6),
        Lead("both", "front", "mid", [high_pass(230), peak(1500, 3.1, 1.6)], gain_db=-5, delay_ms=0.62),
        Lead("both", "unfaded", "bass", [high_pass(27), twice(low_pass(110))], gain_db=2),
    ], player_ppm=112.0, full_scale_v=14.0, rail_v=8.5)


RADIOS = {"doors": four_doors, "two-way": two_way_front, "centre": centre_and_bass}


def ends(s, end):
    return [n for n in s.numbers if s.radio.leads[n - 1].end == end]


def sides(s, side):
    return [n for n in s.numbers if s.radio.leads[n - 1].side == side]


@case(0, "clean")
def clean(s):
    pass


# --- 1: leads that come late --------------------------------------------------------------------------------------------------------

for late in (24, 30, 60, 100):
    @case(1, f"rear {late} ms late", "lead-delayed")
    def late_rear(s, late=late):
        s.radio = s.radio.changed()
        for n in ends(s, "rear"):
            s.radio.leads[n - 1].delay_ms += late


@case(1, "front 80 ms late", "lead-delayed")
def late_front(s):
    s.radio = s.radio.changed()
    for n in ends(s, "front"):
        s.radio.leads[n - 1].delay_ms += 80


# --- 2: dropouts and lost frames ----------------------------------------------------------------------------------------------------

def silence(at_s, seconds):
    def cut(x):
        x = x.copy()
        x[int(at_s * RATE_HZ):int((at_s + seconds) * RATE_HZ)] = 0
        return x
    return cut


def lose(at_s, seconds):
    return lambda x: np.delete(x, slice(int(at_s * RATE_HZ), int(at_s * RATE_HZ) + int(seconds * RATE_HZ)), axis=0)


for hz, take, which in ((80, "leads", 0), (300, "leads", 0), (1000, "leads", 0), (2500, "leads", 1), (7000, "leads", 1), (900, "front", 0), (400, "quiet", 0), (1500, "loud", 0)):
    @case(2, f"dropout of 40 ms at {hz} Hz, {take}", "dropout|broke off")
    def dropout(s, hz=hz, take=take, which=which):
        s.after[take] = silence(sweep_passes(take, hz, which), 0.04)

for ms, take, at in ((0.5, "leads", 5.0), (3, "leads", 9.0), (1, "leads", 17.0), (3, "front", 3.0), (0.6, "quiet", 4.0), (1, "loud", 14.0)):
    @case(2, f"{ms} ms of frames lost, {take}", "frames-lost|lost")
    def frames(s, ms=ms, take=take, at=at):
        s.after[take] = lose(at, ms * 1e-3)


# --- 3: channels exchanged -----------------------------------------------------------------------------------------------------------

for take in ("leads", "front", "loud"):
    @case(3, f"channels of a front and a rear lead exchanged, {take}", "channels-exchanged|exchanged")
    def exchange(s, take=take):
        one, other = ends(s, "front")[0], ends(s, "rear")[0]
        order = s.order[take]
        order[one - 1], order[other - 1] = other, one

    @case(3, f"channels of two front leads exchanged, {take}", "channels-exchanged|exchanged")
    def exchange_front(s, take=take):
        one, other = ends(s, "front")[0], ends(s, "front")[1]
        order = s.order[take]
        order[one - 1], order[other - 1] = other, one


# --- 4: fader -------------------------------------------------------------------------------------------------------------------------

@case(4, "fader swapped", "fader")
def fader_swapped(s):
    s.play["front"]["fader"], s.play["rear"]["fader"] = 1.0, -1.0


@case(4, "fader never turned", "fader")
def fader_never(s):
    s.play["front"]["fader"] = s.play["rear"]["fader"] = 0.0


@case(4, "fader turned by 40 %", "fader")
def fader_part(s):
    s.play["front"]["fader"], s.play["rear"]["fader"] = -0.4, 0.4


@case(4, "fader at the front in both takes", "fader")
def fader_front_twice(s):
    s.play["rear"]["fader"] = -1.0


@case(4, "fader at the rear in both takes", "fader")
def fader_rear_twice(s):
    s.play["front"]["fader"] = 1.0


@case(4, "fader half to the front in the leads take", "fader")
def fader_half_leads(s):
    s.play["leads"]["fader"] = -0.5


@case(4, "fader half to the rear in the leads take", "fader")
def fader_half_rear_leads(s):
    s.play["leads"]["fader"] = 0.5


# --- 5: the clean volume ---------------------------------------------------------------------------------------------------------------

@case(5, "a limiter from -10 dB on", "limit|compress")
def limiter(s):
    s.radio = s.radio.changed(limit_v=s.radio.full_scale_v * 10 ** (-10 / 20), rail_v=30.0)


@case(5, "the loud take four steps low", "volume|gain", top_step=26)
def loud_low(s):
    s.play["loud"]["step"] -= 4


@case(5, "the loud take eight steps low", "volume|gain", top_step=22)
def loud_very_low(s):
    s.play["loud"]["step"] -= 8


@case(5, "16 bit with 40 dB unused", "low-recorded|too low|soft")
def sixteen(s):
    s.form, s.full_volts = "16", {take: 2500.0 for take in s.takes}


@case(5, "the recorder's gain 6 dB lower for the loud take", "recorder|gain")
def loud_gain(s):
    s.full_volts["loud"] *= 2


@case(5, "the recorder clips at 0.35 of full scale", "recorder|interface")
def recorder_clips(s):
    s.full_volts = {take: v * 0.6 for take, v in s.full_volts.items()}
    s.radio = s.radio.changed(rail_v=60.0)
    s.after["loud"] = lambda x: np.clip(x, -0.35, 0.35)


def chime(at_s, volts, hz=1000.0, channels=None):
    def add(x):
        x = x.copy()
        t = np.arange(int(0.7 * RATE_HZ)) / RATE_HZ
        tone = volts * np.exp(-t / 0.25) * (np.sin(2 * np.pi * hz * t) + 0.4 * np.sin(2 * np.pi * 2.76 * hz * t)) * np.minimum(1, t / 0.003)
        first = int(at_s * RATE_HZ)
        for c in channels or range(x.shape[1]):
            x[first:first + len(t), c] += tone
        return x
    return add


@case(5, "a chime in the tones of the loud take", "chime|foreign|sound", top_step=30)
def loud_chime(s):
    s.before["loud"] = chime(START_S + 10.8, 1.0)


# --- 6: what a lead plays of the channels -------------------------------------------------------------------------------------------------

def lone(s):
    """A lead to put a mix on: the centre if there is one."""
    return ends(s, "front")[-1]


for a, b in ((1, -1), (1, -0.7), (1, -0.3), (0.3, 1)):
    @case(6, f"{a} L {b:+} R", "mix|differ|ratio")
    def mixed(s, a=a, b=b):
        s.radio = s.radio.changed(mix={lone(s): [(1, 40000, a, b)]})


@case(6, "left in the bass, mono above", "mix|differ|ratio")
def left_bass(s):
    s.radio = s.radio.changed(mix={lone(s): [(1, 600, 1, 0), (600, 40000, 0.5, 0.5)]})


@case(6, "mono in the bass, left above", "mix|differ|ratio")
def mono_bass(s):
    s.radio = s.radio.changed(mix={ends(s, "rear")[0]: [(1, 150, 0.5, 0.5), (150, 40000, 1, 0)]})


@case(6, "a steered centre", "steer")
def steered(s):
    n = lone(s)
    s.radio = s.radio.changed(steer={n: 12.0})
    s.radio.leads[n - 1].side = "both"


# --- 7: a limiter at the survey's volume ----------------------------------------------------------------------------------------------------

for threshold, ratio in ((-18, 20.0), (-21, 4.0), (-24, 2.0)):
    @case(7, f"limiter from {threshold} dB at the survey's volume, ratio {ratio}", "limit|compress")
    def survey_limiter(s, threshold=threshold, ratio=ratio):
        volts = s.radio.full_scale_v * 10 ** ((bench.STEP_DB * (bench.SURVEY_STEP - bench.TOP_STEP) + threshold + 6) / 20)
        s.radio = s.radio.changed(limit_v=volts, limit_ratio=ratio, rail_v=30.0)


# --- 8: chimes --------------------------------------------------------------------------------------------------------------------------------

for take, which, volts in (("leads", 0, 0.5), ("leads", 1, 0.3), ("leads", 0, 0.1), ("front", 0, 0.5), ("quiet", 0, 0.3)):
    @case(8, f"a chime of {volts} V at 1 kHz, {take} {which}", "chime|foreign|sound")
    def chimes(s, take=take, which=which, volts=volts):
        s.before[take] = chime(sweep_passes(take, 1000, which) - 0.15, volts)


# --- 9: levels only -------------------------------------------------------------------------------------------------------------------------

@case(9, "balance 0.4 to the left, leads", "balance")
def balance_left(s):
    s.play["leads"]["balance"] = -0.4


@case(9, "balance 0.3 to the right, front", "balance")
def balance_right(s):
    s.play["front"]["balance"] = 0.3


@case(9, "volume three steps low, leads", "volume|gain")
def volume_low(s):
    s.play["leads"]["step"] -= 3


@case(9, "recorder's gain +6 dB, leads", "gain")
def gain_up(s):
    s.full_volts["leads"] /= 2


@case(9, "recorder's gain -9 dB from the third take on", "gain")
def gain_down(s):
    for take in ("rear", "quiet", "loud"):
        s.full_volts[take] *= 10 ** (9 / 20)


# --- 10: wires and noise ----------------------------------------------------------------------------------------------------------------------

@case(10, "two clips on one wire, one reversed", "leads-alike|same|one wire")
def same_wire(s):
    def same(x):
        x = x.copy()
        x[:, 1] = -x[:, 0] + np.random.default_rng(3).normal(0, 1e-4, len(x))
        return x
    s.before = {take: same for take in s.takes}


def whine(volts, hz=740.0):
    def add(x):
        t = np.arange(len(x)) / RATE_HZ
        phase = 2 * np.pi * hz * (t + 0.004 * np.sin(2 * np.pi * 0.21 * t))
        return x + (volts * (np.sin(phase) + 0.5 * np.sin(2 * phase) + 0.3 * np.sin(3 * phase)))[:, None]
    return add


@case(10, "alternator whine of 200 mV", "whine")
def alternator(s):
    s.before = {take: whine(0.2) for take in s.takes}


@case(10, "residue of a switching output stage", "ultrasonic|residue|switching", free=True)
def residue(s):
    def add(x):
        t = np.arange(len(x)) / RATE_HZ
        return x + 0.3 * np.sin(2 * np.pi * 22300 * t)[:, None]
    s.before = {take: add for take in s.takes}


# --- 11: other causes -------------------------------------------------------------------------------------------------------------------------

@case(11, "bass control up in the front take", "bass|tone")
def bass_front(s):
    s.play["front"]["bass_db"] = 5.0


@case(11, "bass control up in the quiet take", "bass|tone|loudness")
def bass_quiet(s):
    s.play["quiet"]["bass_db"] = 5.0


@case(11, "balance fully left, leads", "balance")
def balance_full(s):
    s.play["leads"]["balance"] = -1.0


@case(11, "linear-phase equaliser", "linear")
def linear_phase(s):
    s.radio = s.radio.changed(zero_phase={n: [(400, 5.0, 1.2), (2600, -5.0, 1.4)] for n in s.numbers})


@case(11, "a subwoofer lead alone", "bass|lead-delay")
def bass_alone(s):
    s.numbers = [6 if len(s.radio.leads) == 6 and s.radio.leads[5].band == "bass" else 1]
    s.order = {take: list(s.numbers) for take in s.takes}
