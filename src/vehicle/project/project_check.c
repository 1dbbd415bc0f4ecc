/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/kinds/kinds.h"
#include "vehicle/project/project_private.h"

#include <math.h>

static void note(GPtrArray *wrong, GError *error)
{
  g_ptr_array_add(wrong, g_strdup(error->message));
}

/* Every page of every table. */
static void check_pages(CwProject *project, GPtrArray *wrong)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(sqlite3_stmt) statement =
      cw_sql_prepare(project->file->database, project->file->path, "PRAGMA integrity_check(20)", &error);
  int code = SQLITE_DONE;
  while (statement && (code = sqlite3_step(statement)) == SQLITE_ROW) {
    g_autofree char *verdict = cw_sql_verdict(statement);
    if (!g_str_equal(verdict, "ok"))
      g_ptr_array_add(wrong, g_strdup_printf("%s: %s", project->file->path, verdict));
  }
  if (statement && code != SQLITE_DONE)
    cw_sql_fail(project->file->database, project->file->path, &error);
  if (error)
    note(wrong, error);
}

static void check_restore_points(CwProject *project, GPtrArray *wrong)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(GPtrArray) points = cw_project_list_restore_points(project, &error);
  if (!points) {
    note(wrong, error);
    return;
  }
  for (guint i = 0; i < points->len; i++) {
    const CwRestorePoint *point = g_ptr_array_index(points, i);
    g_autoptr(GError) unreadable = NULL;
    g_autoptr(CwRecord) vehicle = cw_project_read_restore_point(project, point->name, &unreadable);
    if (!vehicle)
      note(wrong, unreadable);
  }
}

static void check_samples(CwProject *project, const char *name, GPtrArray *wrong)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwSamples) samples = cw_project_get_samples(project, name, &error);
  if (!samples) {
    note(wrong, error);
    return;
  }
  for (gsize i = 0; i < samples->n_channels * samples->n_frames; i++)
    if (!isfinite(samples->values[i])) {
      g_ptr_array_add(wrong, g_strdup_printf("%s: samples \"%s\": value %" G_GSIZE_FORMAT " is not a number",
                                             project->file->path, name, i));
      return;
    }
}

/* Every take that names samples has them, and all samples are as they were written. */
static void check_all_samples(CwProject *project, GPtrArray *wrong)
{
  g_autoptr(GError) error = NULL;
  CwList *takes = cw_vehicle_get_takes(project->vehicle);
  for (guint i = 0; i < cw_list_get_length(takes); i++) {
    const char *blob = cw_take_get_blob(cw_list_get(takes, i));
    if (*blob && !cw_project_has_samples(project, blob))
      g_ptr_array_add(wrong, g_strdup_printf("%s: takes[%u].blob: there are no samples \"%s\"",
                                             project->file->path, i, blob));
  }
  g_autoptr(sqlite3_stmt) statement = cw_sql_prepare(project->file->database, project->file->path,
                                                     "SELECT name FROM samples ORDER BY name", &error);
  while (statement && sqlite3_step(statement) == SQLITE_ROW) {
    g_autofree char *name = cw_sql_text(statement, 0);
    check_samples(project, name, wrong);
  }
  if (error)
    note(wrong, error);
}

gboolean cw_project_check(const char *path, GPtrArray *wrong)
{
  g_autoptr(GError) error = NULL;
  guint before = wrong->len;
  g_autoptr(CwProject) project = cw_project_open_read_only(path, &error);
  if (!project) {
    note(wrong, error);
    return FALSE;
  }
  check_pages(project, wrong);
  check_restore_points(project, wrong);
  check_all_samples(project, wrong);
  return wrong->len == before;
}
