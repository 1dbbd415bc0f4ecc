/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "check-values.h"
#include "signal/filters/section.h"
#include <string.h>

/* The section a check-value row describes: columns type, fs, f0, dB and either of Q, bandwidth in octaves
 * between half-gain points (BW) or shelf slope (S), turned into Q as the W3C Audio EQ Cookbook does. */
static inline double cookbook_q(const char *given, double value, double gain_db, double frequency_hz,
                                double rate_hz)
{
  if (strcmp(given, "BW") == 0)
    return cw_q_from_octaves_at(value, frequency_hz, rate_hz);
  if (strcmp(given, "S") == 0)
    return cw_q_from_shelf_slope(gain_db, value);
  g_assert_cmpstr(given, ==, "Q");
  return value == 0.707107 ? G_SQRT2 / 2 : value; /* printed with six digits, computed with all */
}

static inline CwSectionKind cookbook_kind(const char *type)
{
  static const struct {
    const char *type;
    CwSectionKind kind;
  } kinds[] = {{"PEAK", CW_SECTION_PEAKING}, {"LS", CW_SECTION_LOW_SHELF}, {"HS", CW_SECTION_HIGH_SHELF},
               {"NOTCH", CW_SECTION_NOTCH},  {"AP", CW_SECTION_ALL_PASS},  {"LP", CW_SECTION_LOW_PASS},
               {"HP", CW_SECTION_HIGH_PASS}, {"BP0", CW_SECTION_BAND_PASS}};

  for (size_t i = 0; i < G_N_ELEMENTS(kinds); i++)
    if (strcmp(kinds[i].type, type) == 0)
      return kinds[i].kind;
  g_error("unknown type '%s'", type);
}

static inline CwSection cookbook_section(const char *id, size_t row, const char *value_column,
                                         double *rate_hz)
{
  *rate_hz = check_cell(id, row, "fs");
  CwSection section = {.kind = cookbook_kind(check_text(id, row, "type")),
                       .frequency_hz = check_cell(id, row, "f0"),
                       .gain_db = check_cell(id, row, "dB")};
  section.q = cookbook_q(check_text(id, row, "given"), check_cell(id, row, value_column), section.gain_db,
                         section.frequency_hz, *rate_hz);
  return section;
}
