/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "handover/table.h"
#include "job/findings/review.h"
#include "job/handover/report.h"
#include "vehicle/json/document.h"
#include <glib/gstdio.h>
#include <string.h>

/* A project in a folder of its own; outputs speakers with hostile names, and a tune for them unless tuned is
 * FALSE. */
typedef struct {
  char *folder, *path, *pdf;
  CwProject *project;
} Bench;

static Bench open_bench(guint outputs, gboolean tuned)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(GString) json = g_string_new(
      "{\"reference\":\"J-0147\",\"description\":\"Alder <b>Tourer</b> & \\u202e ك %s %n\",\"speakers\":[");
  Bench bench = {.folder = g_dir_make_tmp("report-XXXXXX", &error)};
  for (guint i = 1; i <= outputs; i++)
    g_string_append_printf(json, "%s{\"output\":%u,\"name\":\"%s %u\",\"lowest_hz\":50}", i > 1 ? "," : "", i,
                           i % 2 ? "=SUM(A1)\\t\\\"quoted\\\"" : "Lautsprecher, größer", i);
  g_string_append(json, "],\"tune\":{\"sample_rate_hz\":48000,\"outputs\":[");
  for (guint i = 1; tuned && i <= outputs; i++)
    g_string_append_printf(json,
                           "%s{\"output\":%u,\"gain_db\":-3.5,\"delay_samples\":48,\"delay_ms\":1,"
                           "\"sections\":[{\"use\":\"crossover\",\"kind\":\"high-pass\","
                           "\"family\":\"linkwitz-riley\",\"order\":4,\"frequency_hz\":2500}]}",
                           i > 1 ? "," : "", i);
  g_string_append(json, "]}}");
  g_assert_no_error(error);
  g_autoptr(CwRecord) vehicle = cw_record_from_json(cw_vehicle_get_type(), json->str, -1, &error);
  g_assert_no_error(error);
  cw_job_review(vehicle);
  bench.path = g_build_filename(bench.folder, "car.cabin", NULL);
  bench.pdf = g_build_filename(bench.folder, "report.pdf", NULL);
  bench.project = cw_project_create(bench.path, vehicle, &error);
  g_assert_no_error(error);
  return bench;
}

static void close_bench(Bench *bench)
{
  g_object_unref(bench->project);
  g_unlink(bench->pdf);
  g_unlink(bench->path);
  g_assert_cmpint(g_rmdir(bench->folder), ==, 0); /* nothing else was left there */
  g_free(bench->folder);
  g_free(bench->path);
  g_free(bench->pdf);
}

/* What one of poppler's programs says of the report: another reader's word on the file. */
static char *ask(const char *program, const char *pdf)
{
  const char *const arguments[] = {program, pdf, g_str_equal(program, "pdftotext") ? "-" : NULL, NULL};
  char *said = NULL;
  int status;
  g_autoptr(GError) error = NULL;
  g_assert_true(g_spawn_sync(NULL, (char **)arguments, NULL, G_SPAWN_SEARCH_PATH, NULL, NULL, &said, NULL,
                             &status, &error));
  g_assert_no_error(error);
  g_assert_true(g_spawn_check_wait_status(status, &error));
  return said;
}

static guint count_pages(const char *pdf)
{
  g_autofree char *said = ask("pdfinfo", pdf);
  const char *pages = strstr(said, "Pages:");
  g_assert_nonnull(pages);
  return (guint)g_ascii_strtoull(g_strchug((char *)pages + 6), NULL, 10);
}

/* With and without a tune, from no speaker to a sheet of many pages; names come through as they are. */
static void test_sizes(void)
{
  static const struct {
    guint outputs, least, most;
    gboolean tuned;
  } cases[] = {{0, 1, 1, FALSE}, {3, 1, 2, FALSE}, {3, 1, 2, TRUE}, {64, 4, 10, TRUE}};
  for (guint i = 0; i < G_N_ELEMENTS(cases); i++) {
    Bench bench = open_bench(cases[i].outputs, cases[i].tuned);
    g_autoptr(GError) error = NULL;
    g_assert_true(cw_job_write_report(bench.project, bench.pdf, CW_REPLACE_OWN, &error));
    g_assert_no_error(error);
    g_assert_cmpuint(count_pages(bench.pdf), >=, cases[i].least);
    g_assert_cmpuint(count_pages(bench.pdf), <=, cases[i].most);
    g_autofree char *text = ask("pdftotext", bench.pdf);
    g_assert_nonnull(strstr(text, "Alder <b>Tourer</b> &"));
    g_assert_cmpint(strstr(text, "SUM(A1)") != NULL, ==, cases[i].outputs > 0);
    g_assert_cmpint(strstr(text, "2.5 kHz, 24 dB") != NULL, ==, cases[i].tuned);
    g_assert_cmpint(strstr(text, "34 cm") != NULL, ==, cases[i].tuned);
    close_bench(&bench);
  }
}

/* The same vehicle at the same time makes the same bytes; at another time, others. */
static void test_same_bytes(void)
{
  Bench bench = open_bench(5, TRUE);
  g_autoptr(GError) error = NULL;
  g_setenv("SOURCE_DATE_EPOCH", "1790000000", TRUE);
  g_autoptr(GBytes) one = cw_job_make_report(bench.project, &error);
  g_autoptr(GBytes) other = cw_job_make_report(bench.project, &error);
  g_setenv("SOURCE_DATE_EPOCH", "1890000000", TRUE);
  g_autoptr(GBytes) later = cw_job_make_report(bench.project, &error);
  g_unsetenv("SOURCE_DATE_EPOCH");
  g_assert_no_error(error);
  g_assert_true(g_bytes_equal(one, other));
  g_assert_false(g_bytes_equal(one, later));
  close_bench(&bench);
}

/* The checksum is that of the table's file, whatever way it is computed. */
static void test_checksum(void)
{
  Bench bench = open_bench(2, TRUE);
  CwRecord *vehicle = cw_project_get_vehicle(bench.project);
  g_autoptr(GError) error = NULL;
  g_autoptr(CwTable) table = cw_table_new(vehicle, 0, &error);
  g_autofree char *text = cw_table_write(table, "json", FALSE, NULL, &error),
                  *sum = cw_table_checksum(vehicle, &error);
  g_assert_no_error(error);
  g_autofree char *wanted =
      g_compute_checksum_for_data(G_CHECKSUM_SHA256, (const guchar *)text, strlen(text));
  g_assert_cmpstr(sum, ==, wanted);
  cw_tune_output_set_gain_db(cw_list_get(cw_tune_get_outputs(cw_vehicle_get_tune(vehicle)), 0), -3.4);
  g_autofree char *changed = cw_table_checksum(vehicle, &error);
  g_assert_cmpstr(sum, !=, changed);
  close_bench(&bench);
}

/* Written whole or not at all. */
static void test_writing(void)
{
  Bench bench = open_bench(2, TRUE);
  g_autoptr(GError) error = NULL;
  g_autofree char *nowhere = g_build_filename(bench.folder, "not-there", "report.pdf", NULL);
  g_assert_false(cw_job_write_report(bench.project, nowhere, CW_REPLACE_OWN, &error));
  g_assert_nonnull(strstr(error->message, nowhere));
  g_clear_error(&error);
  g_assert_true(cw_job_write_report(bench.project, bench.pdf, CW_REPLACE_OWN, &error));
  g_assert_no_error(error);
  g_assert_true(g_file_test(bench.pdf, G_FILE_TEST_IS_REGULAR));
  close_bench(&bench);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/job/report/sizes", test_sizes);
  g_test_add_func("/job/report/same-bytes", test_same_bytes);
  g_test_add_func("/job/report/checksum", test_checksum);
  g_test_add_func("/job/report/writing", test_writing);
  return g_test_run();
}
