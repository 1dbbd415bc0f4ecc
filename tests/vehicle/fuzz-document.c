/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/json/document.h"
#include "vehicle/json/json_scan.h"
#include "vehicle/kinds/kinds.h"
#include "vehicle/project/project.h"

/* A fuzz target (libFuzzer's entry point): whatever the bytes are, reading ends with a record or with one
 * line of error, and what was read is written so that it reads back the same. Built as a fuzzer with
 * -Dc_args=-fsanitize=fuzzer-no-link under clang; replayed over the corpus in every test run. */
int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size);

static void check_record(CwRecord *record)
{
  g_autoptr(GError) error = NULL;
  GType kind = G_OBJECT_TYPE(record);
  gsize length;
  g_autofree char *json = cw_record_to_json(record, &length);
  g_autoptr(CwRecord) again = cw_record_from_json(kind, json, (gssize)length, &error);
  g_assert_no_error(error);
  g_autofree char *json_again = cw_record_to_json(again, NULL);
  g_assert_cmpstr(json, ==, json_again);
  g_autoptr(CwRecord) copy = cw_record_copy(record), empty = cw_record_new(kind);
  g_assert_true(cw_record_equal(copy, record));
  cw_record_assign(empty, record);
  g_assert_true(cw_record_equal(empty, record));
  g_autofree char *indented = cw_json_indent(json);
  g_autofree char *compact = cw_json_compact(indented, -1, &error);
  g_assert_no_error(error);
  g_assert_cmpstr(compact, ==, json);
}

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size)
{
  GType kinds[] = {cw_vehicle_get_type(), cw_survey_takes_get_type(), cw_processor_get_type(),
                   cw_take_get_type()};
  for (guint i = 0; i < G_N_ELEMENTS(kinds); i++) {
    g_autoptr(GError) error = NULL;
    g_autoptr(CwRecord) record = cw_record_from_json(kinds[i], (const char *)data, (gssize)size, &error);
    g_assert_true((record != NULL) != (error != NULL));
    if (record)
      check_record(record);
    else
      g_assert_true(g_utf8_validate(error->message, -1, NULL));
  }
  g_autoptr(GError) error = NULL;
  g_autofree char *compact = cw_json_compact((const char *)data, (gssize)size, &error);
  g_assert_true((compact != NULL) != (error != NULL));
  return 0;
}
