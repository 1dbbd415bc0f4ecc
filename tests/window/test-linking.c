/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/practice/practice.h"
#include "window/state/linked_outputs.h"

#include <glib/gstdio.h>
#include <math.h>

/* The Alder Tourer with a tune made by hand: on each output the same crossover and the same first correction;
 * output 1 alone has one more. */
typedef struct {
  char *folder, *path;
  CwSession *session;
  CwRecord *vehicle;
} Desk;

static CwRecord *add_section(CwRecord *output, int use, int kind, double hz, double gain_db, double q)
{
  CwRecord *section = cw_tune_output_add_to_sections(output);
  cw_tune_section_set_use(section, use);
  cw_tune_section_set_kind(section, kind);
  cw_tune_section_set_frequency_hz(section, hz);
  cw_tune_section_set_gain_db(section, gain_db);
  cw_tune_section_set_q(section, q);
  return section;
}

static void desk_open(Desk *desk, gconstpointer unused)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = cw_job_practice_vehicle("alder-tourer", &error);
  g_assert_no_error(error);
  CwRecord *tune = cw_vehicle_make_tune(vehicle);
  for (int number = 1; number <= 9; number++) {
    CwRecord *output = cw_tune_add_to_outputs(tune);
    cw_tune_output_set_output(output, number);
    cw_tune_output_set_gain_db(output, -number);
    cw_tune_output_set_delay_ms(output, 0.25 * number);
    cw_tune_section_set_family(add_section(output, CW_USE_CROSSOVER, CW_SECTION_HIGH_PASS, 2200, 0, 0.7),
                               CW_FILTER_LINKWITZ_RILEY);
    add_section(output, CW_USE_CORRECTION, CW_SECTION_PEAKING, 4000, -3, 2);
  }
  add_section(cw_list_get(cw_tune_get_outputs(tune), 0), CW_USE_CORRECTION, CW_SECTION_PEAKING, 9000, 1.5, 1);
  desk->folder = g_dir_make_tmp("linking-XXXXXX", &error);
  desk->path = g_build_filename(desk->folder, "car.cabin", NULL);
  g_autoptr(CwProject) project = cw_project_create(desk->path, vehicle, &error);
  g_assert_no_error(error);
  g_autoptr(CwSoundClient) sound = cw_sound_client_new("/bin/false");
  desk->session = cw_session_new(sound);
  cw_session_set_project(desk->session, project);
  desk->vehicle = cw_session_get_vehicle(desk->session);
}

static void desk_close(Desk *desk, gconstpointer unused)
{
  g_object_unref(desk->session);
  g_unlink(desk->path);
  g_rmdir(desk->folder);
  g_free(desk->path);
  g_free(desk->folder);
}

static CwRecord *output(Desk *desk, int number)
{
  return cw_list_find_integer_at(cw_tune_get_outputs(cw_vehicle_get_tune(desk->vehicle)),
                                 CW_TUNE_OUTPUT_FIELD_OUTPUT, number);
}

static CwRecord *section(Desk *desk, int number, guint position)
{
  return cw_list_get(cw_tune_output_get_sections(output(desk, number)), position);
}

static guint count(Desk *desk, int number)
{
  return cw_list_get_length(cw_tune_output_get_sections(output(desk, number)));
}

/* High, mid, low and full of the front and rear go together, the subwoofer with none. */
static void test_pairs(Desk *desk, gconstpointer unused)
{
  const int pairs[][2] = {{1, 2}, {3, 4}, {5, 6}, {7, 8}};
  for (guint i = 0; i < G_N_ELEMENTS(pairs); i++) {
    g_assert_cmpint(cw_pair_of(desk->vehicle, pairs[i][0]), ==, pairs[i][1]);
    g_assert_cmpint(cw_pair_of(desk->vehicle, pairs[i][1]), ==, pairs[i][0]);
  }
  g_assert_cmpint(cw_pair_of(desk->vehicle, 9), ==, CW_NO_INTEGER);
}

static void test_alone(Desk *desk, gconstpointer unused)
{
  cw_session_set_output(desk->session, 1);
  cw_tune_output_set_gain_db(output(desk, 1), 0);
  cw_tune_section_set_gain_db(section(desk, 1, 1), -6);
  cw_linking_follow(desk->session, section(desk, 1, 1));
  g_assert_cmpfloat(cw_tune_output_get_gain_db(output(desk, 2)), ==, -2);
  g_assert_cmpfloat(cw_tune_section_get_gain_db(section(desk, 2, 1)), ==, -3);
}

/* Differences stay, equals stay equal, what one side alone has stays its own; the same steps again and again
 * come to the same. */
static void test_linked(Desk *desk, gconstpointer unused)
{
  cw_session_set_output(desk->session, 1);
  cw_session_set_linked(desk->session, TRUE);
  for (int step = 1; step <= 3; step++) {
    cw_tune_output_set_gain_db(output(desk, 1), -1 + step);
    cw_tune_section_set_frequency_hz(section(desk, 1, 1), 4000 + 100 * step);
    cw_tune_section_set_gain_db(section(desk, 1, 2), 1.5 + step);
    cw_linking_follow(desk->session, section(desk, 1, 1));
    g_assert_cmpfloat(cw_tune_output_get_gain_db(output(desk, 2)), ==, -2 + step);
    g_assert_cmpfloat(cw_tune_section_get_frequency_hz(section(desk, 2, 1)), ==, 4000 + 100 * step);
    g_assert_cmpuint(count(desk, 2), ==, 2);
  }
  cw_tune_section_set_frequency_hz(section(desk, 1, 1), 4000);
  cw_linking_follow(desk->session, section(desk, 1, 1));
  g_assert_cmpfloat(cw_tune_section_get_frequency_hz(section(desk, 2, 1)), ==, 4000);
  g_assert_cmpfloat(cw_tune_output_get_gain_db(output(desk, 3)), ==, -3);
  g_assert_true(cw_session_commit(desk->session, "drag"));
  cw_session_undo(desk->session);
  g_assert_cmpfloat(cw_tune_output_get_gain_db(output(desk, 1)), ==, -1);
  g_assert_cmpfloat(cw_tune_output_get_gain_db(output(desk, 2)), ==, -2);
}

/* Several chosen outputs without the link: they follow, their pairs do not. */
static void test_chosen(Desk *desk, gconstpointer unused)
{
  cw_session_set_outputs(desk->session, (const gint64[]){3, 5, 9}, 3);
  cw_tune_output_set_muted(output(desk, 3), TRUE);
  cw_tune_output_set_polarity(output(desk, 3), CW_POLARITY_INVERTED);
  cw_tune_output_set_polarity(output(desk, 9), CW_POLARITY_NORMAL);
  cw_tune_output_set_delay_ms(output(desk, 3), 1.75);
  cw_linking_follow(desk->session, output(desk, 3));
  for (int number = 1; number <= 9; number++) {
    gboolean chosen = number == 3 || number == 5 || number == 9;
    g_assert_cmpint(cw_tune_output_get_muted(output(desk, number)), ==, chosen);
    g_assert_cmpint(cw_tune_output_get_polarity(output(desk, number)), ==,
                    chosen ? CW_POLARITY_INVERTED : CW_POLARITY_NORMAL);
    g_assert_cmpfloat(fabs(cw_tune_output_get_delay_ms(output(desk, number)) - 0.25 * number - chosen), <,
                      1e-9);
  }
}

static void test_add_remove_bypass(Desk *desk, gconstpointer unused)
{
  cw_session_set_output(desk->session, 1);
  cw_session_set_linked(desk->session, TRUE);
  cw_linking_add(desk->session,
                 add_section(output(desk, 1), CW_USE_CORRECTION, CW_SECTION_PEAKING, 6300, 0, 1.4));
  g_assert_cmpuint(count(desk, 1), ==, 4);
  g_assert_cmpuint(count(desk, 2), ==, 3);
  g_assert_cmpuint(count(desk, 3), ==, 2);
  cw_linking_remove(desk->session, section(desk, 1, 1));
  g_assert_cmpuint(count(desk, 1), ==, 3);
  g_assert_cmpuint(count(desk, 2), ==, 2);
  g_assert_cmpfloat(cw_tune_section_get_frequency_hz(section(desk, 2, 1)), ==, 6300);
  cw_linking_remove(desk->session, section(desk, 1, 1)); /* the one that output 2 does not have */
  g_assert_cmpuint(count(desk, 1), ==, 2);
  g_assert_cmpuint(count(desk, 2), ==, 2);
  cw_linking_set_bypass(desk->session, output(desk, 1), TRUE);
  g_assert_false(cw_tune_section_get_bypass(section(desk, 1, 0)));
  g_assert_true(cw_tune_section_get_bypass(section(desk, 1, 1)));
  g_assert_true(cw_tune_section_get_bypass(section(desk, 2, 1)));
  g_assert_false(cw_tune_section_get_bypass(section(desk, 3, 1)));
}

static void test_copy(Desk *desk, gconstpointer unused)
{
  cw_linking_copy_filters(desk->session, 1, 2);
  g_assert_cmpuint(count(desk, 2), ==, 3);
  for (guint i = 0; i < 3; i++)
    g_assert_true(cw_record_equal(section(desk, 1, i), section(desk, 2, i)));
  g_assert_true(section(desk, 1, 0) != section(desk, 2, 0));
  g_assert_cmpfloat(cw_tune_output_get_gain_db(output(desk, 2)), ==, -2);
  g_assert_cmpfloat(cw_tune_output_get_delay_ms(output(desk, 2)), ==, 0.5);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add("/linking/pairs", Desk, NULL, desk_open, test_pairs, desk_close);
  g_test_add("/linking/alone", Desk, NULL, desk_open, test_alone, desk_close);
  g_test_add("/linking/linked", Desk, NULL, desk_open, test_linked, desk_close);
  g_test_add("/linking/chosen", Desk, NULL, desk_open, test_chosen, desk_close);
  g_test_add("/linking/add-remove-bypass", Desk, NULL, desk_open, test_add_remove_bypass, desk_close);
  g_test_add("/linking/copy", Desk, NULL, desk_open, test_copy, desk_close);
  return g_test_run();
}
