/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "handover/settings_text.h"
#include "handover/table.h"
#include "vehicle/json/document.h"

/* The whole text of a small tune, as a person would read it: written out here by hand. */
static const char sheet[] =
    "{\"reference\":\"J-0147\",\"description\":\"Alder Tourer\",\"speakers\":[{\"output\":1,\"name\":\"front "
    "left high\",\"way\":\"high\"},"
    "{\"output\":9,\"name\":\"subwoofer\",\"way\":\"sub\"}],\"processor\":{\"name\":\"Ten-output "
    "processor\",\"sample_rate_hz\":96000},"
    "\"tune\":{\"sample_rate_hz\":96000,\"outputs\":["
    "{\"output\":1,\"gain_db\":-3.9,\"delay_ms\":2.177,\"delay_samples\":209,\"polarity\":\"inverted\","
    "\"mix\":{\"left\":1,\"right\":0},\"sections\":["
    "{\"use\":\"crossover\",\"kind\":\"high-pass\",\"family\":\"linkwitz-riley\",\"order\":4,\"frequency_"
    "hz\":2913.3},"
    "{\"use\":\"correction\",\"kind\":\"peaking\",\"frequency_hz\":3406.2,\"gain_db\":-2.6,\"q\":1.307},"
    "{\"use\":\"correction\",\"kind\":\"peaking\",\"frequency_hz\":9000,\"gain_db\":3,\"q\":1,\"bypass\":"
    "true}]},"
    "{\"output\":9,\"gain_db\":0,\"muted\":true,\"mix\":{\"left\":0.5,\"right\":0.5},\"sections\":["
    "{\"use\":\"correction\",\"kind\":\"low-shelf\",\"frequency_hz\":31.5,\"gain_db\":2,\"q\":0.7}]}],"
    "\"voicing\":[{\"use\":\"voicing\",\"kind\":\"high-shelf\",\"frequency_hz\":9000,\"gain_db\":1,\"q\":0.7}"
    "]}}";

static const char expected[] =
    "J-0147  Alder Tourer\n"
    "Ten-output processor, delays in samples at 96000 Hz\n"
    "\n"
    "Output 1  front left high\n"
    "  gain -3.9 dB, delay 2.177 ms (209 samples), polarity inverted, left 1, right 0\n"
    "  High-pass     2913 Hz   Linkwitz-Riley, 24 dB per octave\n"
    "  Peaking       3406 Hz     -2.6 dB   Q 1.31\n"
    "\n"
    "Output 9  subwoofer  MUTED\n"
    "  gain +0.0 dB, delay 0.000 ms (0 samples), polarity normal, left 0.5, right 0.5\n"
    "  Low shelf     31.5 Hz     +2.0 dB   Q 0.70\n"
    "\n"
    "Voicing, the same on every output after its own filters\n"
    "  High shelf    9000 Hz     +1.0 dB   Q 0.70\n";

static void test_whole(void)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = cw_record_from_json(cw_vehicle_get_type(), sheet, -1, &error);
  g_assert_no_error(error);
  g_autofree char *text = cw_settings_write(vehicle, &error);
  g_assert_no_error(error);
  g_assert_cmpstr(text, ==, expected);
}

static void test_no_tune(void)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = cw_record_new(cw_vehicle_get_type());
  g_assert_null(cw_settings_write(vehicle, &error));
  g_assert_error(error, CW_TABLE_ERROR, CW_TABLE_ERROR_NO_TUNE);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/settings-text/whole", test_whole);
  g_test_add_func("/settings-text/no-tune", test_no_tune);
  return g_test_run();
}
