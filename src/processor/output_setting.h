/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/filters/crossover.h"

#define CW_SETTING_MOST_SECTIONS 32

typedef struct {
  CwFilterFamily family;
  int order; /* 0 for none */
  double corner_hz;
} CwCrossoverSetting;

/* Everything that a processor does to one output. */
typedef struct {
  double gain_db;
  double delay_seconds;
  bool inverted;
  CwCrossoverSetting high_pass, low_pass;
  size_t sections;
  CwSection section[CW_SETTING_MOST_SECTIONS];
} CwOutputSetting;

/* Complex response of a setting at count frequencies, delay included. */
void cw_setting_response(const CwOutputSetting *setting, double rate_hz, const double *hz, size_t count,
                         CwComplex *response);

/* The crossovers alone, without gain, polarity or delay. */
void cw_setting_crossover_response(const CwOutputSetting *setting, double rate_hz, const double *hz,
                                   size_t count, CwComplex *response);

/* The largest gain from 20 Hz to 20 kHz, dB. */
double cw_setting_peak_db(const CwOutputSetting *setting, double rate_hz);

/* How far the setting is down half an octave and more below a frequency, against the most that it has from
 * there up, dB: what protects a speaker that may not play below hz. */
double cw_setting_fall_db(const CwOutputSetting *setting, double rate_hz, double hz);

/* "Half an octave below", as a part of the frequency. */
#define CW_SETTING_PROTECTED_PART 0.70710678

/* What a protected speaker has of it at least. */
#define CW_SETTING_LEAST_FALL_DB 10.0
