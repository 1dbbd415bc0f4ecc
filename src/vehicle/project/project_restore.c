/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/json/document.h"
#include "vehicle/kinds/kinds.h"
#include "vehicle/project/project_private.h"

void cw_restore_point_free(CwRestorePoint *point)
{
  g_free(point->name);
  g_free(point->made_utc);
  g_free(point);
}

void cw_work_free(CwWork *work)
{
  g_free(work->done_utc);
  g_free(work->what);
  g_free(work);
}

static gboolean insert_restore_point(CwProject *project, const char *name, GError **error)
{
  g_autoptr(sqlite3_stmt) statement =
      cw_sql_prepare(project->file->database, project->file->path,
                     "INSERT INTO restore_point (name, made_utc, json, crc32) VALUES (?, ?, ?, ?)", error);
  gsize length;
  g_autofree char *now = cw_now_utc(), *json = cw_record_to_json(project->saved, &length);
  if (!statement)
    return FALSE;
  sqlite3_bind_text(statement, 1, name, -1, SQLITE_STATIC);
  sqlite3_bind_text(statement, 2, now, -1, SQLITE_STATIC);
  sqlite3_bind_text64(statement, 3, json, length, SQLITE_STATIC, SQLITE_UTF8);
  sqlite3_bind_int64(statement, 4, cw_crc32(0, json, length));
  if (sqlite3_step(statement) == SQLITE_DONE)
    return TRUE;
  if (sqlite3_extended_errcode(project->file->database) != SQLITE_CONSTRAINT_UNIQUE)
    return cw_sql_fail(project->file->database, project->file->path, error);
  g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_EXISTS, "%s: a restore point \"%s\" is already there",
              project->file->path, name);
  return FALSE;
}

gboolean cw_project_make_restore_point(CwProject *project, const char *name, GError **error)
{
  g_return_val_if_fail(name && *name, FALSE);
  sqlite3 *database = project->file->database;
  const char *path = project->file->path;
  g_autofree char *what = g_strdup_printf("Restore point: %s", name);
  if (project->file->read_only_reason) {
    g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_READ_ONLY, "%s: cannot be changed: %s", path,
                project->file->read_only_reason);
    return FALSE;
  }
  if (!cw_project_commit(project, what, error) || !cw_sql_run(database, path, "BEGIN IMMEDIATE", error))
    return FALSE;
  if (insert_restore_point(project, name, error) && cw_sql_log_work(database, path, what, error) &&
      cw_sql_run(database, path, "COMMIT", error))
    return TRUE;
  sqlite3_exec(database, "ROLLBACK", NULL, NULL, NULL);
  return FALSE;
}

GPtrArray *cw_project_list_restore_points(CwProject *project, GError **error)
{
  g_autoptr(sqlite3_stmt) statement =
      cw_sql_prepare(project->file->database, project->file->path,
                     "SELECT id, name, made_utc FROM restore_point ORDER BY id", error);
  if (!statement)
    return NULL;
  g_autoptr(GPtrArray) points = g_ptr_array_new_with_free_func((GDestroyNotify)cw_restore_point_free);
  int code;
  while ((code = sqlite3_step(statement)) == SQLITE_ROW) {
    CwRestorePoint *point = g_new0(CwRestorePoint, 1);
    point->id = sqlite3_column_int64(statement, 0);
    point->name = cw_sql_text(statement, 1);
    point->made_utc = cw_sql_text(statement, 2);
    g_ptr_array_add(points, point);
  }
  if (code == SQLITE_DONE)
    return g_steal_pointer(&points);
  cw_sql_fail(project->file->database, project->file->path, error);
  return NULL;
}

CwRecord *cw_project_read_restore_point(CwProject *project, const char *name, GError **error)
{
  const char *path = project->file->path;
  g_autoptr(sqlite3_stmt) statement = cw_sql_prepare(
      project->file->database, path, "SELECT json, crc32 FROM restore_point WHERE name = ?", error);
  if (!statement)
    return NULL;
  sqlite3_bind_text(statement, 1, name, -1, SQLITE_STATIC);
  int code = sqlite3_step(statement);
  if (code == SQLITE_DONE) {
    g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_MISSING, "%s: there is no restore point \"%s\"",
                path, name);
    return NULL;
  }
  if (code != SQLITE_ROW) {
    cw_sql_fail(project->file->database, path, error);
    return NULL;
  }
  g_autofree char *json = cw_sql_checked_text(statement, 0, 1, "a restore point", path, error);
  CwRecord *vehicle = json ? cw_record_from_json(cw_vehicle_get_type(), json, -1, error) : NULL;
  if (json && !vehicle)
    g_prefix_error(error, "%s: restore point \"%s\": ", path, name);
  return vehicle;
}

gboolean cw_project_go_to_restore_point(CwProject *project, const char *name, GError **error)
{
  g_autoptr(CwRecord) then = cw_project_read_restore_point(project, name, error);
  g_autoptr(CwRecord) now = cw_record_snapshot(project->vehicle);
  g_autofree char *what = g_strdup_printf("Return to restore point: %s", name);
  if (!then)
    return FALSE;
  cw_record_assign(project->vehicle, then);
  if (cw_project_commit(project, what, error))
    return TRUE;
  cw_record_assign(project->vehicle, now);
  return FALSE;
}

GPtrArray *cw_project_list_work(CwProject *project, GError **error)
{
  g_autoptr(sqlite3_stmt) statement = cw_sql_prepare(
      project->file->database, project->file->path, "SELECT done_utc, what FROM work_log ORDER BY id", error);
  if (!statement)
    return NULL;
  g_autoptr(GPtrArray) list = g_ptr_array_new_with_free_func((GDestroyNotify)cw_work_free);
  int code;
  while ((code = sqlite3_step(statement)) == SQLITE_ROW) {
    CwWork *work = g_new0(CwWork, 1);
    work->done_utc = cw_sql_text(statement, 0);
    work->what = cw_sql_text(statement, 1);
    g_ptr_array_add(list, work);
  }
  if (code == SQLITE_DONE)
    return g_steal_pointer(&list);
  cw_sql_fail(project->file->database, project->file->path, error);
  return NULL;
}
