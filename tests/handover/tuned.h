/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A small tune with everything in it that a table holds. */
#pragma once
#include "handover/table.h"
#include "vehicle/json/document.h"

/* %s is the front left's own correction. Rate 96 kHz; output 1 inverted and late, with a crossover, a
 * correction and one that is bypassed; output 9 without any; one input; a voicing. */
#define TUNED_SHEET                                                                                          \
  "{\"reference\":\"J-0147\",\"speakers\":[{\"output\":1,\"name\":\"=front, \\\"left\\\"\"},{\"output\":9,"  \
  "\"name\":\"subwoofer\"}],\"tune\":{\"sample_rate_hz\":96000,\"outputs\":["                                \
  "{\"output\":1,\"gain_db\":-13.6,\"delay_ms\":2.177,\"delay_samples\":209,\"polarity\":\"inverted\","      \
  "\"mix\":{\"left\":1,\"right\":0},\"sections\":[{\"use\":\"crossover\",\"kind\":\"high-pass\","            \
  "\"family\":\"linkwitz-riley\",\"order\":4,\"frequency_hz\":2913.3},%s,"                                   \
  "{\"use\":\"correction\",\"kind\":\"peaking\",\"frequency_hz\":9000,\"gain_db\":3,\"q\":1,"                \
  "\"bypass\":true}]},{\"output\":9,\"gain_db\":0,\"mix\":{\"left\":0.5,\"right\":0.5}}],"                   \
  "\"inputs\":[{\"input\":2,\"lead\":3,\"gain_db\":-1.5,\"mix\":{\"left\":0,\"right\":1},\"sections\":["     \
  "{\"use\":\"correction\",\"kind\":\"low-shelf\",\"frequency_hz\":80,\"gain_db\":2.5,\"q\":0.7}]}],"        \
  "\"voicing\":[{\"use\":\"voicing\",\"kind\":\"high-shelf\",\"frequency_hz\":9000,\"gain_db\":1,\"q\":0.7}" \
  "]}}"

#define TUNED_SECTION                                                                                        \
  "{\"use\":\"correction\",\"kind\":\"peaking\",\"frequency_hz\":3406.2,\"gain_db\":-2.6,\"q\":1.307}"

static inline CwRecord *tuned_vehicle(const char *section)
{
  g_autoptr(GError) error = NULL;
  g_autofree char *json = g_strdup_printf(TUNED_SHEET, section);
  CwRecord *vehicle = cw_record_from_json(cw_vehicle_get_type(), json, -1, &error);
  g_assert_no_error(error);
  return vehicle;
}

static inline CwTable *tuned_table(double rate_hz)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = tuned_vehicle(TUNED_SECTION);
  CwTable *table = cw_table_new(vehicle, rate_hz, &error);
  g_assert_no_error(error);
  return table;
}
