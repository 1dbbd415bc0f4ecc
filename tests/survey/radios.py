# SPDX-License-Identifier: GPL-3.0-or-later
"""The radios that the survey's tests use; invented."""
from radio_bench import Lead, Radio, all_pass, high_pass, low_pass, peak, twice


def mixed_radio():
    """Every kind of lead once: a two-way left front, a right rear with an all-pass, delayed and inverted, a centre, and a bass lead that the
    fader leaves alone; a bass lift below step 16."""
    return Radio([
        Lead("left", "front", "high", [high_pass(3100, 4), peak(7600, 2.2, 1.7)], gain_db=1.5),
        Lead("left", "front", "low", [high_pass(55), low_pass(3100, 4), peak(700, -2.5, 1.2)], inverted=True, delay_ms=0.183),
        Lead("right", "rear", "full", [high_pass(62), peak(240, 2.8, 1.5), all_pass(1150, 0.8)], gain_db=-2.1, inverted=True, delay_ms=5.4321, all_pass=True),
        Lead("both", "front", "mid", [high_pass(230), peak(1500, 3.1, 1.6)], gain_db=-3, delay_ms=0.62),
        Lead("both", "unfaded", "bass", [high_pass(27), twice(low_pass(110))], gain_db=2),
    ], player_ppm=-127.3, lift=(90, 0.7, 16))


def door_radio(**more):
    """Two full-range doors."""
    settings = {"player_ppm": 88.2, "full_scale_v": 18.0, "seat": {1: 1.21}}
    settings.update(more)
    return Radio([
        Lead("left", "front", "full", [high_pass(44), peak(120, 3.5, 1.1), peak(950, -3.2, 1.4), peak(5200, 4.1, 1.2)]),
        Lead("right", "front", "full", [high_pass(44), peak(120, 3.5, 1.1), peak(1050, -2.7, 1.5), peak(5200, 4.1, 1.2)], gain_db=-0.7, inverted=True),
    ], **settings)


def three_way_radio():
    """Three leads a side with fourth-order crossovers, the mids wired in reverse, unequal levels and delays."""
    leads = []
    for side, off in (("left", 1.0), ("right", 1.06)):
        leads += [Lead(side, "front", "high", [twice(high_pass(3600)), peak(9000 * off, -2.4, 1.5)], gain_db=2.5),
                  Lead(side, "front", "low", [twice(high_pass(310)), twice(low_pass(3600)), peak(1400 * off, 2.8, 1.3)], gain_db=-1.5, inverted=True, delay_ms=0.21),
                  Lead(side, "front", "low", [high_pass(30), twice(low_pass(310)), peak(75 * off, -2.6, 1.1)], delay_ms=0.09)]
    return Radio(leads, player_ppm=31.9)


def bass_radio():
    """Woofers' leads of little band, whose peaks overlap each other and the ends of the band, beside two tweeters': their delay is the hardest to
    tell."""
    return Radio([
        Lead("left", "front", "high", [twice(high_pass(2900))], delay_ms=0.31),
        Lead("both", "unfaded", "bass", [high_pass(31), twice(low_pass(122)), peak(55, 4.2, 2.3), peak(33, 5.0, 0.7), peak(32, 1.9, 3.0)], gain_db=1.5, delay_ms=0.229),
        Lead("left", "front", "bass", [high_pass(25), twice(low_pass(104)), peak(71, -5.1, 0.9), peak(58, 3.7, 2.6)], delay_ms=1.94, inverted=True),
        Lead("right", "front", "low", [high_pass(42), low_pass(260, 3), peak(90, 5.3, 0.8), peak(130, -4.4, 1.7)], delay_ms=0.77),
    ], player_ppm=-61.0)
