/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sample.h"
#include "vehicle/json/document.h"

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
  report("commit them with their samples", milliseconds_since(start));
  for (int i = 0; i < 3; i++) {
    g_object_unref(project);
    start = g_get_monotonic_time();
    project = cw_project_open(path, &error);
    report("open", milliseconds_since(start));
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
