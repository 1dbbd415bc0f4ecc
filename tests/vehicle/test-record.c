/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sample.h"
#include "vehicle/json/document.h"
#include <math.h>
#include <string.h>

static void test_values(void)
{
  g_autoptr(CwRecord) speaker = cw_record_new(cw_speaker_get_type());
  g_assert_true(isnan(cw_speaker_get_lowest_hz(speaker)));
  g_assert_false(cw_speaker_has_lowest_hz(speaker));
  cw_speaker_set_lowest_hz(speaker, 4);
  g_assert_cmpfloat(cw_speaker_get_lowest_hz(speaker), ==, 10); /* brought into the field's limits */
  cw_speaker_set_lowest_hz(speaker, (double)NAN);
  g_assert_false(cw_speaker_has_lowest_hz(speaker));
  cw_speaker_set_way_word(speaker, "sub");
  g_assert_cmpint(cw_speaker_get_way(speaker), ==, CW_WAY_SUB);
  cw_speaker_set_way(speaker, CW_WAY_MID);
  g_assert_cmpstr(cw_speaker_get_way_word(speaker), ==, "mid");
  cw_speaker_set_name(speaker, "Front left \xff high");
  g_assert_true(g_utf8_validate(cw_speaker_get_name(speaker), -1, NULL));
}

/* What does not fit a field's numbers is the programmer's mistake and changes nothing; what is outside its
 * limits is brought into them; of a measured curve six digits are kept. */
static void test_numbers(void)
{
  g_autoptr(CwRecord) take = cw_record_new(cw_take_get_type()),
                      processor = cw_record_new(cw_processor_get_type());
  double hz[] = {20.123456789, 40}, db[] = {-12.3456789, (double)NAN}, falling[] = {40, 20},
         q[] = {0.001, 20};
  cw_take_take_response(take, cw_numbers_new_curve(2, hz, db));
  const CwNumbers *response = cw_take_get_response(take);
  g_assert_cmpfloat(cw_numbers_at(response, 0, 0), ==, 20.1235);
  g_assert_cmpfloat(cw_numbers_at(response, 0, 1), ==, -12.3457);
  g_assert_true(isnan(cw_numbers_at(response, 1, 1)));
  g_test_expect_message(NULL, G_LOG_LEVEL_CRITICAL, "*do not fit*");
  cw_take_take_response(take, cw_numbers_new_curve(2, falling, db));
  g_test_expect_message(NULL, G_LOG_LEVEL_CRITICAL, "*do not fit*");
  cw_take_take_response(take, cw_numbers_new(2, 1, hz));
  g_test_assert_expected_messages();
  g_assert_true(cw_take_get_response(take) == response);
  cw_processor_take_q(processor, cw_numbers_new(2, 1, q));
  g_assert_cmpfloat(cw_numbers_at(cw_processor_get_q(processor), 0, 0), ==, 0.05);
}

static void check_identifier(GType kind, CwFieldId id, const char *key)
{
  g_autoptr(CwRecord) record = cw_record_new(kind);
  const CwField *field = cw_record_get_field_at(record, id);
  g_assert_nonnull(field);
  g_assert_cmpstr(field->key, ==, key);
  g_assert_cmpuint(cw_record_field_id(record, field), ==, id);
}

/* The identifiers, which are made from the text of the tables, tell the same fields as the compiled tables.
 */
static void test_identifiers(void)
{
#define CHECK(kind, id, key) check_identifier(kind, id, key);
  CW_FOR_EACH_FIELD(CHECK)
#undef CHECK
}

/* A field of another kind of record, or of another type, is complained of; nothing is got and nothing set.
 * What kinds have in common is got and set in each of them. */
static void test_kind_is_checked(void)
{
  g_autoptr(CwRecord) speaker = cw_record_new(cw_speaker_get_type()),
                      head = cw_record_new(cw_head_get_type()), unchanged = cw_record_copy(head);
  g_test_expect_message(NULL, G_LOG_LEVEL_CRITICAL, "CwHead has no field*");
  g_assert_true(isnan(cw_speaker_get_lowest_hz(head)));
  g_test_expect_message(NULL, G_LOG_LEVEL_CRITICAL, "CwHead has no field*");
  cw_speaker_set_name(head, "Front left");
  g_test_expect_message(NULL, G_LOG_LEVEL_CRITICAL, "CwHead has no field*");
  cw_record_set_number_at(head, CW_HEAD_FIELD_SEAT, 3);
  g_test_assert_expected_messages();
  g_assert_true(cw_record_equal(head, unchanged));
  cw_placed_set_x_cm(head, 140);
  cw_placed_set_x_cm(speaker, 30);
  g_assert_cmpfloat(cw_head_get_x_cm(head), ==, 140);
  g_assert_cmpfloat(cw_speaker_get_x_cm(speaker), ==, 30);
}

static void test_properties(void)
{
  g_autoptr(CwRecord) speaker =
      g_object_new(cw_speaker_get_type(), "output", (gint64)3, "lowest-hz", 80.0, "way", "low", NULL);
  g_autofree char *way = NULL;
  double lowest_hz = 0;
  gint64 output = 0;
  g_object_get(speaker, "output", &output, "lowest-hz", &lowest_hz, "way", &way, NULL);
  g_assert_cmpint(output, ==, 3);
  g_assert_cmpfloat(lowest_hz, ==, 80);
  g_assert_cmpstr(way, ==, "low");
}

/* Every kind's table is whole: a label for what the sheet shows, limits that hold the initial value, a
 * choice's index. */
static void test_tables(void)
{
  GType kinds[] = {cw_vehicle_get_type(), cw_survey_takes_get_type(), cw_track_index_get_type()};
  g_autoptr(GHashTable) seen = g_hash_table_new(NULL, NULL);
  g_autoptr(GArray) queue = g_array_new(FALSE, FALSE, sizeof(GType));
  g_array_append_vals(queue, kinds, G_N_ELEMENTS(kinds));
  for (guint at = 0; at < queue->len; at++) {
    guint n_fields;
    GType kind = g_array_index(queue, GType, at);
    const CwField *fields = cw_kind_get_fields(kind, &n_fields);
    if (!g_hash_table_add(seen, GSIZE_TO_POINTER(kind)))
      continue;
    for (guint i = 0; i < n_fields; i++) {
      const CwField *field = &fields[i];
      g_test_message("%s.%s", g_type_name(kind), field->key);
      if (!(field->flags & CW_FIELD_HIDDEN))
        g_assert_nonnull(field->label);
      if (field->type == CW_FIELD_CHOICE)
        g_assert_true(field->choices && field->choices[(int)field->initial].word);
      gboolean number = field->type == CW_FIELD_NUMBER || field->type == CW_FIELD_INTEGER;
      if (number && cw_field_has_limits(field) && !(field->flags & (CW_FIELD_NULLABLE | CW_FIELD_REQUIRED)))
        g_assert_true(field->initial >= field->least && field->initial <= field->most);
      if (field->child) {
        GType child = field->child();
        g_array_append_val(queue, child);
      }
    }
  }
  g_assert_cmpuint(g_hash_table_size(seen), >=, 30);
}

static void count_up(int *count)
{
  ++*count;
}

static void test_notify(void)
{
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  CwRecord *speaker = cw_vehicle_find_speaker(vehicle, 2);
  int name = 0, fs = 0, changed = 0;
  g_signal_connect_swapped(speaker, "notify::name", G_CALLBACK(count_up), &name);
  g_signal_connect_swapped(speaker, "notify::fs-hz", G_CALLBACK(count_up), &fs);
  g_signal_connect_swapped(vehicle, "changed", G_CALLBACK(count_up), &changed);
  cw_speaker_set_name(speaker, "Right high");
  cw_speaker_set_name(speaker, "Right high");
  g_assert_cmpint(name, ==, 1);
  g_assert_cmpint(fs, ==, 0);
  g_assert_cmpint(changed, ==, 1);
  g_assert_true(cw_record_get_root(speaker) == vehicle);
}

static void test_snapshot(void)
{
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  sample_add_take(vehicle, "a", 1, 1, 40);
  sample_add_take(vehicle, "b", 2, 1, 40);
  g_autoptr(CwRecord) before = cw_record_snapshot(vehicle);
  g_autoptr(CwRecord) again = cw_record_snapshot(vehicle);
  g_assert_true(before == again);
  cw_speaker_set_fs_hz(cw_vehicle_find_speaker(vehicle, 1), 700);
  g_autoptr(CwRecord) after = cw_record_snapshot(vehicle);
  g_assert_cmpfloat(cw_speaker_get_fs_hz(cw_vehicle_find_speaker(before, 1)), ==, 801);
  g_assert_cmpfloat(cw_speaker_get_fs_hz(cw_vehicle_find_speaker(after, 1)), ==, 700);
  /* what did not change is the same object in both */
  g_assert_true(cw_list_get(cw_vehicle_get_takes(before), 1) == cw_list_get(cw_vehicle_get_takes(after), 1));
  g_assert_false(cw_record_equal(before, after));
  g_assert_true(cw_record_equal(vehicle, after));
  g_autoptr(CwRecord) copy = cw_record_copy(before);
  g_assert_true(cw_record_equal(copy, before));
  g_assert_false(cw_record_is_snapshot(copy));
  cw_speaker_set_fs_hz(cw_vehicle_find_speaker(copy, 1), 650);
  g_assert_cmpfloat(cw_speaker_get_fs_hz(cw_vehicle_find_speaker(before, 1)), ==, 801);
}

/* Whoever is told of a change and takes a snapshot at once gets the new value, also while a list is being
 * spliced. */
static void check_snapshot_is_new(CwRecord *vehicle)
{
  g_autoptr(CwRecord) snapshot = cw_record_snapshot(vehicle);
  g_assert_true(cw_record_equal(snapshot, vehicle));
  g_assert_cmpuint(cw_list_get_length(cw_vehicle_get_takes(snapshot)), ==,
                   cw_list_get_length(cw_vehicle_get_takes(vehicle)));
  g_assert_cmpstr(cw_vehicle_get_description(snapshot), ==, cw_vehicle_get_description(vehicle));
}

static void test_snapshot_when_told(void)
{
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  g_signal_connect_swapped(vehicle, "notify::description", G_CALLBACK(check_snapshot_is_new), vehicle);
  g_signal_connect_swapped(cw_vehicle_get_takes(vehicle), "items-changed", G_CALLBACK(check_snapshot_is_new),
                           vehicle);
  g_object_unref(cw_record_snapshot(vehicle));
  cw_vehicle_set_description(vehicle, "Rowan Van");
  sample_add_take(vehicle, "a", 1, 1, 3);
  cw_list_remove(cw_vehicle_get_takes(vehicle), 0);
}

/* Applying a document leaves what is equal alone: the same objects, and no notification. */
static void test_assign(void)
{
  g_autoptr(CwRecord) vehicle = sample_vehicle(), other = cw_record_copy(vehicle);
  CwList *speakers = cw_vehicle_get_speakers(vehicle), *other_speakers = cw_vehicle_get_speakers(other);
  CwRecord *first = cw_list_get(speakers, 0), *last = cw_list_get(speakers, 2);
  int told_first = 0, told_last = 0, told_fs = 0, told_list = 0, told_processor = 0;
  cw_speaker_set_fs_hz(cw_list_get(other_speakers, 2), 33);
  cw_list_remove(other_speakers, 1);
  g_signal_connect_swapped(first, "notify", G_CALLBACK(count_up), &told_first);
  g_signal_connect_swapped(last, "notify", G_CALLBACK(count_up), &told_last);
  g_signal_connect_swapped(last, "notify::fs-hz", G_CALLBACK(count_up), &told_fs);
  g_signal_connect_swapped(speakers, "items-changed", G_CALLBACK(count_up), &told_list);
  g_signal_connect_swapped(cw_vehicle_get_processor(vehicle), "changed", G_CALLBACK(count_up),
                           &told_processor);
  cw_record_assign(vehicle, other);
  g_assert_true(cw_record_equal(vehicle, other));
  g_assert_true(cw_list_get(speakers, 0) == first && cw_list_get(speakers, 1) == last);
  g_assert_cmpint(told_first, ==, 0);
  g_assert_cmpint(told_last, ==, 1);
  g_assert_cmpint(told_fs, ==, 1);
  g_assert_cmpint(told_list, ==, 1);
  g_assert_cmpint(told_processor, ==, 0);
}

static void test_assign_order(void)
{
  g_autoptr(CwRecord) vehicle = sample_vehicle(), other = cw_record_copy(vehicle);
  CwList *speakers = cw_vehicle_get_speakers(vehicle), *theirs = cw_vehicle_get_speakers(other);
  g_autoptr(CwRecord) moved = g_object_ref(cw_list_get(theirs, 2));
  CwRecord *bass = cw_list_get(speakers, 2);
  cw_list_remove(theirs, 2);
  cw_list_insert(theirs, 0, moved);
  cw_record_assign(vehicle, other);
  g_assert_true(cw_list_get(speakers, 0) == bass);
  g_assert_true(cw_record_get_parent(bass) == vehicle);
  g_assert_true(cw_record_equal(vehicle, other));
}

static gpointer read_snapshot(gpointer data)
{
  g_autofree char *json = cw_record_to_json(data, NULL);
  g_autoptr(CwRecord) copy = cw_record_copy(data);
  return GINT_TO_POINTER(cw_record_equal(copy, data) && strlen(json) > 1000);
}

static void test_snapshot_in_threads(void)
{
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  for (int i = 0; i < 10; i++) {
    g_autofree char *id = g_strdup_printf("take-%d", i);
    sample_add_take(vehicle, id, 1 + i % 2, i, 100);
  }
  g_autoptr(CwRecord) snapshot = cw_record_snapshot(vehicle);
  GThread *threads[4];
  for (int i = 0; i < 4; i++)
    threads[i] = g_thread_new("reader", read_snapshot, snapshot);
  for (int i = 0; i < 50; i++)
    cw_speaker_set_fs_hz(cw_vehicle_find_speaker(vehicle, 1), 100 + i);
  for (int i = 0; i < 4; i++)
    g_assert_true(GPOINTER_TO_INT(g_thread_join(threads[i])));
}

static void test_list_outlives(void)
{
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  g_autoptr(CwList) list = g_object_ref(cw_vehicle_get_speakers(vehicle));
  g_clear_object(&vehicle);
  g_assert_cmpuint(cw_list_get_length(list), ==, 3);
  g_assert_null(cw_record_get_parent(cw_list_get(list, 0)));
  cw_list_remove(list, 0);
  g_assert_cmpuint(g_list_model_get_n_items(G_LIST_MODEL(list)), ==, 2);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/vehicle/record/values", test_values);
  g_test_add_func("/vehicle/record/numbers", test_numbers);
  g_test_add_func("/vehicle/record/identifiers", test_identifiers);
  g_test_add_func("/vehicle/record/kind-is-checked", test_kind_is_checked);
  g_test_add_func("/vehicle/record/properties", test_properties);
  g_test_add_func("/vehicle/record/tables", test_tables);
  g_test_add_func("/vehicle/record/notify", test_notify);
  g_test_add_func("/vehicle/record/snapshot", test_snapshot);
  g_test_add_func("/vehicle/record/snapshot-when-told", test_snapshot_when_told);
  g_test_add_func("/vehicle/record/snapshot-in-threads", test_snapshot_in_threads);
  g_test_add_func("/vehicle/record/assign", test_assign);
  g_test_add_func("/vehicle/record/assign-order", test_assign_order);
  g_test_add_func("/vehicle/record/list-outlives", test_list_outlives);
  return g_test_run();
}
