/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sample.h"
#include "vehicle/json/document.h"
#include "vehicle/project/history.h"

#define N_EDITS 300

/* Whatever was edited, undo and redo return to the same bytes. */
static void test_random_edits(void)
{
  guint32 seed = (guint32)g_test_rand_int();
  GRand *random = g_rand_new_with_seed(seed);
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  g_autoptr(CwHistory) history = cw_history_new(vehicle);
  g_autoptr(GPtrArray) states = g_ptr_array_new_with_free_func(g_free);
  g_test_message("seed %u", seed);
  sample_add_take(vehicle, "take-1", 1, 1, 20);
  cw_history_record(history, "Take", NULL);
  g_ptr_array_add(states, cw_record_to_json(vehicle, NULL));
  for (int i = 0; i < N_EDITS; i++) {
    sample_random_edit(vehicle, random);
    if (cw_history_record(history, "Edit", NULL))
      g_ptr_array_add(states, cw_record_to_json(vehicle, NULL));
  }
  g_assert_cmpuint(states->len, >, N_EDITS / 4);
  guint at = states->len - 1;
  for (int i = 0; i < 4 * N_EDITS; i++) {
    gboolean back = i < N_EDITS ? TRUE : g_rand_boolean(random);
    if (back && at > 0) {
      g_assert_true(cw_history_undo(history));
      at--;
    } else if (!back && at + 1 < states->len) {
      g_assert_true(cw_history_redo(history));
      at++;
    }
    g_autofree char *json = cw_record_to_json(vehicle, NULL);
    g_assert_cmpstr(json, ==, g_ptr_array_index(states, at));
  }
  g_rand_free(random);
}

static void test_names(void)
{
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  g_autoptr(CwHistory) history = cw_history_new(vehicle);
  g_assert_false(cw_history_can_undo(history));
  g_assert_false(cw_history_record(history, "Nothing", NULL));
  cw_vehicle_set_description(vehicle, "a");
  g_assert_true(cw_history_record(history, "Change description", NULL));
  g_assert_cmpstr(cw_history_get_undo_name(history), ==, "Change description");
  g_assert_null(cw_history_get_redo_name(history));
  g_assert_true(cw_history_undo(history));
  g_assert_cmpstr(cw_history_get_redo_name(history), ==, "Change description");
  g_assert_cmpstr(cw_vehicle_get_description(vehicle), ==, "Alder Tourer");
  cw_vehicle_set_description(vehicle, "b");
  cw_history_record(history, "Change it again", NULL);
  g_assert_false(cw_history_can_redo(history));
}

/* A dragged handle is one step; the next drag of the same handle another. */
static void test_merging(void)
{
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  g_autoptr(CwHistory) history = cw_history_new(vehicle);
  CwRecord *speaker = cw_vehicle_find_speaker(vehicle, 1);
  for (int drag = 0; drag < 2; drag++) {
    for (int i = 1; i <= 50; i++) {
      cw_speaker_set_lowest_hz(speaker, 1000 * (drag + 1) + i);
      cw_history_record(history, "Change lowest frequency", "speakers/1/lowest_hz");
    }
    cw_history_seal(history);
  }
  g_assert_true(cw_history_undo(history));
  g_assert_cmpfloat(cw_speaker_get_lowest_hz(speaker), ==, 1050);
  g_assert_true(cw_history_undo(history));
  g_assert_cmpfloat(cw_speaker_get_lowest_hz(speaker), ==, 3150);
  g_assert_false(cw_history_undo(history));
}

static void test_limit(void)
{
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  g_autoptr(CwHistory) history = cw_history_new(vehicle);
  CwRecord *speaker = cw_vehicle_find_speaker(vehicle, 1);
  int n_undone = 0;
  for (int i = 0; i < CW_HISTORY_MOST_STEPS + 100; i++) {
    cw_speaker_set_lowest_hz(speaker, 1000 + i);
    cw_history_record(history, "Change", NULL);
  }
  while (cw_history_undo(history))
    n_undone++;
  g_assert_cmpint(n_undone, ==, CW_HISTORY_MOST_STEPS);
  g_assert_cmpfloat(cw_speaker_get_lowest_hz(speaker), ==, 1099);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/vehicle/history/random-edits", test_random_edits);
  g_test_add_func("/vehicle/history/names", test_names);
  g_test_add_func("/vehicle/history/merging", test_merging);
  g_test_add_func("/vehicle/history/limit", test_limit);
  return g_test_run();
}
