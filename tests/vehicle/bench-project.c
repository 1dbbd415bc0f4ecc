/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sample.h"
#include "vehicle/json/document.h"

#include <glib/gstdio.h>
#include <json-glib/json-glib.h>

/* How long it takes to open, edit and keep a vehicle of nine speakers, 200 takes of 240 points and their
 * samples. */
#define N_TAKES 200
#define N_FRAMES 65536

static double milliseconds_since(gint64 start_us)
{
  return (double)(g_get_monotonic_time() - start_us) / 1000;
}

static void fill(CwProject *project)
{
  g_autoptr(CwSamples) samples = cw_samples_new(96000, 1, N_FRAMES, NULL);
  for (guint i = 0; i < N_FRAMES; i++)
    samples->values[i] = (float)((i * 2654435761u) >> 8) / (1 << 24);
  for (int i = 0; i < N_TAKES; i++) {
    g_autofree char *id = g_strdup_printf("take-%d", i);
    sample_add_take(cw_project_get_vehicle(project), id, 1 + i % 9, i / 9, 240);
    cw_project_put_samples(project, id, samples);
  }
}

static void report(const char *what, double milliseconds)
{
  g_print("%-44s %8.2f ms\n", what, milliseconds);
}

/* The plain way to the same: the samples written to a file and flushed; the document read by json-glib. */
static void report_beside(const char *what, double milliseconds, const char *peer, double peer_milliseconds)
{
  g_print("%-44s %8.2f ms, %.2f times %s (%.2f ms)\n", what, milliseconds, milliseconds / peer_milliseconds, peer,
          peer_milliseconds);
}

static double write_plainly(const char *folder)
{
  g_autoptr(GError) error = NULL;
  g_autofree char *path = g_build_filename(folder, "plain", NULL);
  gsize size = (gsize)N_TAKES * N_FRAMES * sizeof(float);
  g_autofree char *bytes = g_malloc0(size);
  gint64 start = g_get_monotonic_time();
  g_file_set_contents_full(path, bytes, (gssize)size, G_FILE_SET_CONTENTS_DURABLE, 0600, &error);
  double took = milliseconds_since(start);
  g_assert_no_error(error);
  g_unlink(path);
  return took;
}

static double parse_plainly(CwRecord *vehicle)
{
  g_autoptr(GError) error = NULL;
  g_autofree char *text = cw_record_to_json(vehicle, NULL);
  gint64 start = g_get_monotonic_time();
  g_autoptr(JsonParser) parser = json_parser_new();
  g_assert_true(json_parser_load_from_data(parser, text, -1, &error));
  return milliseconds_since(start);
}

int main(void)
{
  g_autoptr(GError) error = NULL;
  g_autofree char *folder = sample_folder(), *path = g_build_filename(folder, "bench.cabin", NULL);
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  CwProject *project = cw_project_create(path, vehicle, &error);
  gint64 start = g_get_monotonic_time();
  fill(project);
  report("make 200 takes", milliseconds_since(start));
  start = g_get_monotonic_time();
  g_assert_true(cw_project_commit(project, "Takes", &error));
  double committed = milliseconds_since(start);
  report_beside("commit them with their samples", committed, "writing as much to a plain file", write_plainly(folder));
  for (int i = 0; i < 3; i++) {
    g_object_unref(project);
    start = g_get_monotonic_time();
    project = cw_project_open(path, &error);
    double opened = milliseconds_since(start);
    report_beside("open", opened, "json-glib's reading of the document", parse_plainly(cw_project_get_vehicle(project)));
  }
  CwRecord *speaker = cw_vehicle_find_speaker(cw_project_get_vehicle(project), 1);
  for (int i = 0; i < 3; i++) {
    cw_speaker_set_lowest_hz(speaker, 3000 + i);
    start = g_get_monotonic_time();
    g_autoptr(CwRecord) snapshot = cw_record_snapshot(cw_project_get_vehicle(project));
    report("snapshot after one edit", milliseconds_since(start));
    start = g_get_monotonic_time();
    g_assert_true(cw_project_commit(project, "Edit", &error));
    report("commit one edit", milliseconds_since(start));
  }
  start = g_get_monotonic_time();
  g_assert_true(cw_project_undo(project, &error));
  report("undo and commit it", milliseconds_since(start));
  start = g_get_monotonic_time();
  g_autoptr(CwSamples) samples = cw_project_get_samples(project, "take-100", &error);
  report("read one take's samples", milliseconds_since(start));
  g_object_unref(project);
  sample_remove_folder(folder);
  return 0;
}
