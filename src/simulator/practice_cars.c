/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The two invented vehicles of the practice bay. */
#include "simulator/practice_car.h"

#include <string.h>

/* JSON as it stands is also a list of C tokens, so it need not be quoted line by line. */
#define TEXT(...) #__VA_ARGS__

// clang-format off
static const char alder_tourer[] = TEXT({
  "name": "alder-tourer", "outputs": 10, "rate_hz": 96000, "latency_ms": 18.4,
  "cabin": {
    "length_m": 2.72, "width_m": 1.46, "height_m": 1.17,
    "floor": [0.14, 0.18, 0.26, 0.36, 0.46, 0.55, 0.61, 0.66, 0.70],
    "roof": [0.20, 0.24, 0.32, 0.41, 0.50, 0.56, 0.60, 0.61, 0.62],
    "sides": [0.30, 0.26, 0.19, 0.15, 0.13, 0.12, 0.12, 0.13, 0.15],
    "ends": [0.26, 0.25, 0.23, 0.22, 0.23, 0.25, 0.28, 0.30, 0.33],
    "damping_db_per_m": [0.4, 0.5, 0.7, 1.0, 1.3, 1.5, 1.7, 1.9, 2.3]
  },
  "seats": [
    {"name": "driver", "head": [1.08, 1.56, 0.96]},
    {"name": "passenger", "head": [0.38, 1.52, 0.95]}
  ],
  "speakers": [
    {"output": 1, "name": "front left high", "way": "high", "side": "left", "at": [0.15, 2.38, 0.79], "aim": [0.7, -0.7, 0.15],
     "radius_cm": 1.2, "fs_hz": 1150, "q": 0.9, "highest_hz": 23000, "lowest_hz": 2200, "level_db_spl": 104,
     "second_percent": 0.25, "third_percent": 0.1, "nominal_ohm": 4, "rated_w": 60,
     "unevenness": [{"hz": 4200, "db": 2.2, "q": 1.6}, {"hz": 9300, "db": -2.6, "q": 2.1}]},
    {"output": 2, "name": "front right high", "way": "high", "side": "right", "at": [1.31, 2.38, 0.79], "aim": [-0.7, -0.7, 0.15],
     "radius_cm": 1.2, "fs_hz": 1190, "q": 0.85, "highest_hz": 22500, "lowest_hz": 2200, "level_db_spl": 103.4,
     "second_percent": 0.25, "third_percent": 0.1, "nominal_ohm": 4, "rated_w": 60,
     "unevenness": [{"hz": 4500, "db": 1.8, "q": 1.5}, {"hz": 9900, "db": -3.1, "q": 2.3}]},
    {"output": 3, "name": "front left mid", "way": "mid", "side": "left", "at": [0.09, 2.28, 0.61], "aim": [0.85, -0.5, 0.2],
     "radius_cm": 3.6, "fs_hz": 128, "q": 0.75, "highest_hz": 8600, "lowest_hz": 220, "level_db_spl": 105,
     "second_percent": 0.3, "third_percent": 0.15, "nominal_ohm": 4, "rated_w": 75,
     "unevenness": [{"hz": 830, "db": -2.4, "q": 1.4}, {"hz": 2700, "db": 2.9, "q": 2.2}]},
    {"output": 4, "name": "front right mid", "way": "mid", "side": "right", "at": [1.37, 2.28, 0.61], "aim": [-0.85, -0.5, 0.2],
     "radius_cm": 3.6, "fs_hz": 133, "q": 0.8, "highest_hz": 8300, "lowest_hz": 220, "level_db_spl": 105.3,
     "second_percent": 0.3, "third_percent": 0.15, "nominal_ohm": 4, "rated_w": 75,
     "unevenness": [{"hz": 880, "db": -2.0, "q": 1.5}, {"hz": 2850, "db": 2.5, "q": 2.0}]},
    {"output": 5, "name": "front left low", "way": "low", "side": "left", "at": [0.05, 2.02, 0.27], "aim": [1, 0, 0.1],
     "radius_cm": 7, "fs_hz": 58, "q": 0.72, "highest_hz": 3800, "lowest_hz": 50, "level_db_spl": 103.5,
     "second_percent": 0.4, "third_percent": 0.25, "nominal_ohm": 4, "rated_w": 100,
     "unevenness": [{"hz": 190, "db": 2.6, "q": 1.8}, {"hz": 1450, "db": 3.4, "q": 2.4}]},
    {"output": 6, "name": "front right low", "way": "low", "side": "right", "at": [1.41, 2.02, 0.27], "aim": [-1, 0, 0.1],
     "radius_cm": 7, "fs_hz": 61, "q": 0.78, "highest_hz": 3700, "lowest_hz": 50, "level_db_spl": 103.1,
     "second_percent": 0.4, "third_percent": 0.25, "nominal_ohm": 4, "rated_w": 100,
     "unevenness": [{"hz": 205, "db": 2.2, "q": 1.7}, {"hz": 1380, "db": 3.0, "q": 2.2}]},
    {"output": 7, "name": "rear left full", "way": "full", "side": "left", "at": [0.05, 0.92, 0.42], "aim": [1, 0.2, 0.2],
     "radius_cm": 6, "fs_hz": 82, "q": 0.9, "highest_hz": 15500, "lowest_hz": 80, "level_db_spl": 100.5,
     "second_percent": 0.5, "third_percent": 0.3, "nominal_ohm": 4, "rated_w": 50,
     "unevenness": [{"hz": 2400, "db": 3.2, "q": 1.9}]},
    {"output": 8, "name": "rear right full", "way": "full", "side": "right", "at": [1.41, 0.92, 0.42], "aim": [-1, 0.2, 0.2],
     "radius_cm": 6, "fs_hz": 85, "q": 0.9, "highest_hz": 15000, "lowest_hz": 80, "level_db_spl": 100.9,
     "second_percent": 0.5, "third_percent": 0.3, "nominal_ohm": 4, "rated_w": 50,
     "unevenness": [{"hz": 2550, "db": 2.8, "q": 1.8}]},
    {"output": 9, "name": "subwoofer", "way": "sub", "side": "both", "at": [0.42, 0.24, 0.22], "aim": [0, 0.6, 0.8],
     "radius_cm": 12, "fs_hz": 29, "q": 0.68, "highest_hz": 380, "lowest_hz": 22, "level_db_spl": 104,
     "second_percent": 0.5, "third_percent": 0.35, "nominal_ohm": 4, "rated_w": 350}
  ],
  "defects": [
    {"name": "front-left-low-reversed", "kind": "reversed", "output": 5, "on": true},
    {"name": "right-door-rattles", "kind": "rattle", "output": 6, "on": true, "hz": 92, "threshold_dbfs": -24,
     "level_db": 4, "at": [1.43, 1.85, 0.5]},
    {"name": "rear-left-silent", "kind": "silent", "output": 7},
    {"name": "front-highs-swapped", "kind": "swapped", "output": 1, "with": 2},
    {"name": "front-and-rear-left-swapped", "kind": "swapped", "output": 5, "with": 7},
    {"name": "rears-joined", "kind": "joined", "output": 7, "with": 8}
  ],
  "microphone": [
    {"kind": "high-pass", "hz": 7, "q": 0.7},
    {"hz": 2300, "db": -0.7, "q": 0.8},
    {"kind": "high-shelf", "hz": 9500, "db": 2.4, "q": 0.8}
  ],
  "spl_at_full_scale": 124, "microphone_noise_db_spl": 29, "rumble_db_spl": 38,
  "sheet": {
    "reference": "J-0147",
    "description": "Alder Tourer, estate car, right-hand drive",
    "driver_side": "right",
    "target": [[20, 8], [50, 7.5], [90, 4.5], [160, 1.5], [300, 0], [1000, 0], [2500, -0.5], [6000, -2], [12000, -4], [20000, -6]],
    "supply": {"running_v": 13.8, "alternator_a": 140},
    "amplifiers": [
      {"name": "Front and rear amplifier", "efficiency": 0.82, "cable": {"length_m": 5.5, "size_mm2": null, "material": "copper"},
       "channels": [
         {"channel": 1, "rated_w": 60, "rated_ohm": 4, "least_ohm": 2, "outputs": [1]},
         {"channel": 2, "rated_w": 60, "rated_ohm": 4, "least_ohm": 2, "outputs": [2]},
         {"channel": 3, "rated_w": 60, "rated_ohm": 4, "least_ohm": 2, "outputs": [3]},
         {"channel": 4, "rated_w": 60, "rated_ohm": 4, "least_ohm": 2, "outputs": [4]},
         {"channel": 5, "rated_w": 90, "rated_ohm": 4, "least_ohm": 2, "outputs": [5]},
         {"channel": 6, "rated_w": 90, "rated_ohm": 4, "least_ohm": 2, "outputs": [6]},
         {"channel": 7, "rated_w": 45, "rated_ohm": 4, "least_ohm": 2, "outputs": [7]},
         {"channel": 8, "rated_w": 45, "rated_ohm": 4, "least_ohm": 2, "outputs": [8]}]},
      {"name": "Bass amplifier", "efficiency": 0.85, "cable": {"length_m": 5.0, "size_mm2": null, "material": "copper"},
       "channels": [
         {"channel": 1, "bridged_with": 2, "rated_w": 350, "rated_ohm": 4, "least_ohm": 4, "outputs": [9]}]}
    ],
    "processor": {"name": "Ten-output processor", "sample_rate_hz": 96000, "sections_per_output": 10, "gain_db": [-60, 12],
      "section_gain_db": [-15, 6], "q": [0.4, 10], "delay_ms_most": 20, "delay_step_samples": 1,
      "frequency_steps_per_octave": null, "gain_step_db": 0.1, "q_step": null}
  }
});

static const char rowan_van[] = TEXT({
  "name": "rowan-van", "outputs": 6, "rate_hz": 48000, "latency_ms": 24.6,
  "cabin": {
    "length_m": 1.94, "width_m": 1.68, "height_m": 1.34,
    "floor": [0.10, 0.12, 0.16, 0.22, 0.28, 0.34, 0.40, 0.44, 0.48],
    "roof": [0.22, 0.26, 0.34, 0.42, 0.50, 0.55, 0.58, 0.60, 0.60],
    "sides": [0.32, 0.27, 0.20, 0.15, 0.12, 0.11, 0.11, 0.12, 0.14],
    "ends": [0.24, 0.22, 0.20, 0.21, 0.24, 0.28, 0.32, 0.35, 0.38],
    "damping_db_per_m": [0.4, 0.5, 0.7, 0.9, 1.1, 1.3, 1.5, 1.7, 2.1]
  },
  "seats": [
    {"name": "driver", "head": [0.46, 0.82, 1.08]},
    {"name": "passenger", "head": [1.24, 0.80, 1.07]}
  ],
  "speakers": [
    {"output": 1, "name": "front left high", "way": "high", "side": "left", "at": [0.14, 1.66, 0.92], "aim": [0.6, -0.75, 0.2],
     "radius_cm": 1.3, "fs_hz": 1320, "q": 1.0, "highest_hz": 20500, "lowest_hz": 2800, "level_db_spl": 102,
     "second_percent": 0.3, "third_percent": 0.15, "nominal_ohm": 4, "rated_w": 40,
     "unevenness": [{"hz": 5200, "db": 2.5, "q": 1.7}, {"hz": 12000, "db": -2, "q": 2}]},
    {"output": 2, "name": "front right high", "way": "high", "side": "right", "at": [1.54, 1.66, 0.92], "aim": [-0.6, -0.75, 0.2],
     "radius_cm": 1.3, "fs_hz": 1280, "q": 0.95, "highest_hz": 21000, "lowest_hz": 2800, "level_db_spl": 102.5,
     "second_percent": 0.3, "third_percent": 0.15, "nominal_ohm": 4, "rated_w": 40,
     "unevenness": [{"hz": 5000, "db": 2.1, "q": 1.6}, {"hz": 11500, "db": -2.4, "q": 2}]},
    {"output": 3, "name": "front left low", "way": "low", "side": "left", "at": [0.05, 1.36, 0.34], "aim": [1, -0.1, 0.15],
     "radius_cm": 6.5, "fs_hz": 71, "q": 0.85, "highest_hz": 5200, "lowest_hz": 60, "level_db_spl": 101.5,
     "second_percent": 0.6, "third_percent": 0.3, "nominal_ohm": 4, "rated_w": 60,
     "unevenness": [{"hz": 240, "db": 2.1, "q": 1.6}, {"hz": 1750, "db": 3.1, "q": 2.3}]},
    {"output": 4, "name": "front right low", "way": "low", "side": "right", "at": [1.63, 1.36, 0.34], "aim": [-1, -0.1, 0.15],
     "radius_cm": 6.5, "fs_hz": 74, "q": 0.8, "highest_hz": 5000, "lowest_hz": 60, "level_db_spl": 101.9,
     "second_percent": 0.6, "third_percent": 0.3, "nominal_ohm": 4, "rated_w": 60,
     "unevenness": [{"hz": 255, "db": 1.8, "q": 1.6}, {"hz": 1650, "db": 3.4, "q": 2.4}]},
    {"output": 5, "name": "subwoofer", "way": "sub", "side": "both", "at": [1.2, 0.3, 0.25], "aim": [0, 1, 0.2],
     "radius_cm": 9.5, "fs_hz": 37, "q": 0.8, "highest_hz": 320, "lowest_hz": 30, "level_db_spl": 101,
     "second_percent": 0.8, "third_percent": 0.5, "nominal_ohm": 4, "rated_w": 150}
  ],
  "defects": [
    {"name": "front-right-low-reversed", "kind": "reversed", "output": 4},
    {"name": "left-door-rattles", "kind": "rattle", "output": 3, "hz": 118, "threshold_dbfs": -24, "level_db": 4,
     "at": [0.04, 1.2, 0.6]}
  ],
  "microphone": [
    {"kind": "high-pass", "hz": 9, "q": 0.7},
    {"hz": 3100, "db": 0.6, "q": 0.9},
    {"kind": "high-shelf", "hz": 8200, "db": -1.8, "q": 0.8}
  ],
  "spl_at_full_scale": 121, "microphone_noise_db_spl": 31, "rumble_db_spl": 41,
  "sheet": {
    "reference": "J-0152",
    "description": "Rowan Van, left-hand drive, both seats",
    "driver_side": "left",
    "target": [[20, 6], [60, 6], [110, 3], [250, 0], [1000, 0], [3000, -1], [8000, -2.5], [20000, -5]],
    "supply": {"running_v": 14.0, "alternator_a": 110},
    "amplifiers": [
      {"name": "Door amplifier", "efficiency": 0.8, "cable": {"length_m": 3.2, "size_mm2": null, "material": "copper"},
       "channels": [
         {"channel": 1, "rated_w": 40, "rated_ohm": 4, "least_ohm": 2, "outputs": [1]},
         {"channel": 2, "rated_w": 40, "rated_ohm": 4, "least_ohm": 2, "outputs": [2]},
         {"channel": 3, "rated_w": 55, "rated_ohm": 4, "least_ohm": 2, "outputs": [3]},
         {"channel": 4, "rated_w": 55, "rated_ohm": 4, "least_ohm": 2, "outputs": [4]},
         {"channel": 5, "bridged_with": 6, "rated_w": 150, "rated_ohm": 4, "least_ohm": 4, "outputs": [5]}]}
    ],
    "processor": {"name": "Six-output processor", "sample_rate_hz": 48000, "sections_per_output": 7, "gain_db": [-40, 6],
      "section_gain_db": [-12, 6], "q": [0.5, 8], "delay_ms_most": 15, "delay_step_samples": 1,
      "frequency_steps_per_octave": 3, "gain_step_db": 0.5, "q_step": null}
  }
});
// clang-format on

const char *cw_practice_built_in_text(const char *name)
{
  if (strcmp(name, "alder-tourer") == 0)
    return alder_tourer;
  if (strcmp(name, "rowan-van") == 0)
    return rowan_van;
  return NULL;
}
