# SPDX-License-Identifier: GPL-3.0-or-later
"""Recordings of the feeds that files of version 2 noted, made from the numbers that stood for those feeds when they were
played: nothing here follows a later design. Exponential sweep after Farina (AES 108, 2000), synchronised after Novak et
al. (JAES 63, 2015); linear chirps as markers."""
import numpy as np

RATE_HZ = 44100  # of the player
TOP_HZ = 0.45 * RATE_HZ
SILENCE_S, TAIL_S, REST_S, MARKER_S = 0.5, 0.75, 0.4, 0.12
FADE_IN_OCTAVES, FADE_OUT_OCTAVES, MARKER_FADE = 1 / 6, 1 / 24, 0.1
MARKER_TOP_HZ = 17000


def whole(seconds):
    return np.ceil(seconds * 100) / 100


class Feed:
    """lowest_hz and marker_lowest_hz of the two speakers, 0 for no marker."""

    def __init__(self, lowest_hz, level_dbfs, marker_lowest_hz=0, repeats=1):
        self.start_hz, self.lowest_hz = lowest_hz / 2, lowest_hz
        self.level = 10 ** (level_dbfs / 20)
        self.growth_s = np.rint(self.start_hz * 0.85) / self.start_hz
        self.sweep_s = self.growth_s * np.log(TOP_HZ / self.start_hz)
        self.marker_low_hz = np.clip(1.15 * marker_lowest_hz, 500, 9000) if marker_lowest_hz else 0
        self.sweep_at = SILENCE_S + (MARKER_S + REST_S if marker_lowest_hz else 0)
        self.period_s = whole(self.sweep_s + TAIL_S)
        last = self.sweep_at + (repeats * self.period_s if repeats > 1 else self.sweep_s + TAIL_S)
        self.sweeps_at = [self.sweep_at + k * self.period_s for k in range(repeats)]
        self.markers_at = [SILENCE_S, whole(last)] if marker_lowest_hz else []
        self.seconds = self.markers_at[1] + MARKER_S + REST_S if marker_lowest_hz else last

    def sweep(self, t, top_hz=TOP_HZ):
        """The sweep's amplitude at times after its start; top_hz is where the fade out ends."""
        octave, octaves = t / self.growth_s / np.log(2), np.log2(top_hz / self.start_hz)
        hz = self.start_hz * np.exp(t / self.growth_s)
        fade_in = 0.5 - 0.5 * np.cos(np.pi * np.clip(octave / FADE_IN_OCTAVES, 0, 1))
        fade_out = 0.5 - 0.5 * np.cos(np.pi * np.clip((octaves - octave) / FADE_OUT_OCTAVES, 0, 1))
        amplitude = self.level / np.sqrt(1 + (self.lowest_hz / hz) ** 8) * fade_in * fade_out
        inside = (t >= 0) & (t <= self.sweep_s)
        return np.where(inside, amplitude * np.sin(2 * np.pi * self.start_hz * self.growth_s * hz / self.start_hz), 0)

    def marker(self, t):
        slope = (MARKER_TOP_HZ - self.marker_low_hz) / MARKER_S
        edge = np.clip(np.minimum(t, MARKER_S - t) / (MARKER_FADE * MARKER_S), 0, 1)
        window = np.where((t >= 0) & (t <= MARKER_S), 0.5 - 0.5 * np.cos(np.pi * edge), 0)
        return self.level * window * np.sin(2 * np.pi * (self.marker_low_hz + 0.5 * slope * t) * t)

    def played(self, rate_hz, ppm=0, seconds=0):
        """The channels of sweep and marker as a recorder at rate_hz takes them whose player runs ppm fast."""
        t = np.arange(int((seconds or self.seconds + 0.5) * rate_hz)) / rate_hz * (1 + 1e-6 * ppm)
        top_hz = min(TOP_HZ, rate_hz / 2)
        return (sum(self.sweep(t - at, top_hz) for at in self.sweeps_at),
                sum((self.marker(t - at) for at in self.markers_at), np.zeros(len(t))))


def through(samples, rate_hz, arrivals):
    """Samples after paths of (seconds, gain), exact between samples by the shift theorem; circular, so the feed must end
    in silence."""
    spectrum, hz = np.fft.rfft(samples), np.fft.rfftfreq(len(samples), 1 / rate_hz)
    return np.fft.irfft(spectrum * sum(gain * np.exp(-2j * np.pi * hz * at) for at, gain in arrivals), len(samples))


def recording_of(name):
    """Rate and channels of the recording that the take of a name was made from."""
    noise = np.random.RandomState(sum(name.encode()))  # the generator of old, whose numbers stay
    feed, rate_hz, ppm, late_s, paths, marker_paths = {
        "loopback": (Feed(3150, -15), 32000, 0, 0.05, [(0.0052, 0.2), (0.0083, -0.08)], None),
        "marker": (Feed(80, -12, 2800), 44100, 80, 0.2, [(0.0061, -0.3), (0.0102, 0.1)], [(0.0034, 0.25)]),
        "repeats": (Feed(2800, -18.5, 3150, 2), 44100, -45, 0.11, [(0.0042, 0.25), (0.0077, 0.06)], [(0.0047, 0.2)]),
    }[name]
    sweep, marker = feed.played(rate_hz, ppm)
    late = [(at + late_s, gain) for at, gain in paths]
    heard = through(sweep, rate_hz, late) + 2e-5 * noise.standard_normal(len(sweep))
    if marker_paths is None:
        return rate_hz, np.column_stack([heard, through(sweep, rate_hz, [(late_s + 0.0004, 0.5)])])
    return rate_hz, (heard + through(marker, rate_hz, [(at + late_s, gain) for at, gain in marker_paths]))[:, None]
