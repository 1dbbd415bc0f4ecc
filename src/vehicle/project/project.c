/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/json/document.h"
#include "vehicle/kinds/kinds.h"
#include "vehicle/project/project_private.h"

#include <string.h>

G_DEFINE_FINAL_TYPE(CwProject, cw_project, G_TYPE_OBJECT)

enum { PROP_PATH = 1, PROP_READ_ONLY, PROP_VEHICLE, PROP_HISTORY, PROP_SAVED, N_PROPS };
static GParamSpec *properties[N_PROPS];

static void project_get_property(GObject *object, guint id, GValue *value, GParamSpec *pspec)
{
  CwProject *project = CW_PROJECT(object);
  switch (id) {
  case PROP_PATH:
    g_value_set_string(value, project->file->path);
    break;
  case PROP_READ_ONLY:
    g_value_set_boolean(value, project->file->read_only_reason != NULL);
    break;
  case PROP_VEHICLE:
    g_value_set_object(value, project->vehicle);
    break;
  case PROP_HISTORY:
    g_value_set_object(value, project->history);
    break;
  case PROP_SAVED:
    g_value_set_boolean(value, cw_project_is_saved(project));
    break;
  default:
    G_OBJECT_WARN_INVALID_PROPERTY_ID(object, id, pspec);
  }
}

static void project_finalize(GObject *object)
{
  CwProject *project = CW_PROJECT(object);
  if (project->vehicle)
    g_signal_handlers_disconnect_by_data(project->vehicle, project);
  cw_file_close(project->file);
  g_clear_object(&project->history);
  g_clear_object(&project->saved);
  g_clear_object(&project->vehicle);
  g_clear_pointer(&project->stored, g_hash_table_unref);
  g_hash_table_unref(project->pending);
  G_OBJECT_CLASS(cw_project_parent_class)->finalize(object);
}

static void cw_project_class_init(CwProjectClass *klass)
{
  GObjectClass *object_class = G_OBJECT_CLASS(klass);
  GParamFlags flags = G_PARAM_READABLE | G_PARAM_STATIC_STRINGS;
  object_class->finalize = project_finalize;
  object_class->get_property = project_get_property;
  properties[PROP_PATH] = g_param_spec_string("path", NULL, NULL, NULL, flags);
  properties[PROP_READ_ONLY] = g_param_spec_boolean("read-only", NULL, NULL, FALSE, flags);
  properties[PROP_VEHICLE] = g_param_spec_object("vehicle", NULL, NULL, CW_TYPE_RECORD, flags);
  properties[PROP_HISTORY] = g_param_spec_object("history", NULL, NULL, CW_TYPE_HISTORY, flags);
  properties[PROP_SAVED] = g_param_spec_boolean("saved", NULL, NULL, TRUE, flags);
  g_object_class_install_properties(object_class, N_PROPS, properties);
}

static void cw_project_init(CwProject *project)
{
  project->pending = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, (GDestroyNotify)cw_samples_free);
}

static void notify_saved(CwProject *project)
{
  g_object_notify_by_pspec(G_OBJECT(project), properties[PROP_SAVED]);
}

/* --- open and create --- */

static CwProject *open_file(const char *path, gboolean may_write, GError **error)
{
  CwFile *file = cw_file_open(path, may_write, error);
  gboolean takes_apart = FALSE;
  g_autoptr(CwRecord) vehicle = file ? cw_project_read_vehicle(file, &takes_apart, error) : NULL;
  if (!vehicle) {
    cw_file_close(file);
    return NULL;
  }
  CwProject *project = g_object_new(CW_TYPE_PROJECT, NULL);
  project->file = file;
  project->vehicle = g_steal_pointer(&vehicle);
  project->history = cw_history_new(project->vehicle);
  project->saved = cw_record_snapshot(project->vehicle);
  project->stored = takes_apart ? cw_project_takes_of(project->saved) : NULL;
  g_signal_connect_swapped(project->vehicle, "changed", G_CALLBACK(notify_saved), project);
  return project;
}

CwProject *cw_project_open(const char *path, GError **error)
{
  return open_file(path, TRUE, error);
}

CwProject *cw_project_open_read_only(const char *path, GError **error)
{
  return open_file(path, FALSE, error);
}

CwProject *cw_project_create(const char *path, CwRecord *vehicle, GError **error)
{
  if (!cw_record_check(vehicle, error)) {
    g_prefix_error(error, "%s: ", path);
    return NULL;
  }
  g_autoptr(CwRecord) snapshot = cw_record_snapshot(vehicle);
  if (!cw_file_create(path, snapshot, "New vehicle", error))
    return NULL;
  return cw_project_open(path, error);
}

const char *cw_project_get_path(CwProject *project)
{
  return project->file->path;
}

const char *cw_project_get_read_only_reason(CwProject *project)
{
  return project->file->read_only_reason;
}

const char *cw_project_get_migration_copy(CwProject *project)
{
  return project->file->migration_copy;
}

CwRecord *cw_project_get_vehicle(CwProject *project)
{
  return project->vehicle;
}

CwHistory *cw_project_get_history(CwProject *project)
{
  return project->history;
}

gboolean cw_project_is_saved(CwProject *project)
{
  return g_hash_table_size(project->pending) == 0 && cw_record_equal(project->vehicle, project->saved);
}

/* --- commit --- */

static gboolean check_may_write(CwProject *project, GError **error)
{
  if (!project->file->read_only_reason)
    return TRUE;
  g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_READ_ONLY, "%s: cannot be changed: %s",
              project->file->path, project->file->read_only_reason);
  return FALSE;
}

/* Writes a snapshot and what was put since the last time, all or nothing. */
static gboolean write_state(CwProject *project, CwRecord *snapshot, const char *what, GError **error)
{
  sqlite3 *database = project->file->database;
  const char *path = project->file->path;
  if (!cw_sql_run(database, path, "BEGIN IMMEDIATE", error))
    return FALSE;
  if (cw_project_write_pending(project, error) &&
      cw_project_write_vehicle(database, path, snapshot, project->stored, error) &&
      cw_sql_log_work(database, path, what, error) && cw_sql_run(database, path, "COMMIT", error)) {
    g_hash_table_remove_all(project->pending);
    g_set_object(&project->saved, snapshot);
    g_clear_pointer(&project->stored, g_hash_table_unref);
    project->stored = cw_project_takes_of(snapshot);
    notify_saved(project);
    return TRUE;
  }
  sqlite3_exec(database, "ROLLBACK", NULL, NULL, NULL);
  return FALSE;
}

gboolean cw_project_commit(CwProject *project, const char *what, GError **error)
{
  return cw_project_commit_merging(project, what, NULL, error);
}

gboolean cw_project_commit_merging(CwProject *project, const char *what, const char *merge_key,
                                   GError **error)
{
  g_autoptr(CwRecord) snapshot = cw_record_snapshot(project->vehicle);
  if (g_hash_table_size(project->pending) == 0 && cw_record_equal(snapshot, project->saved))
    return TRUE;
  if (!check_may_write(project, error))
    return FALSE;
  if (!cw_record_check(snapshot, error)) {
    g_prefix_error(error, "%s: ", project->file->path);
    return FALSE;
  }
  if (!write_state(project, snapshot, what, error))
    return FALSE;
  cw_history_record(project->history, what, merge_key);
  return TRUE;
}

gboolean cw_project_undo(CwProject *project, GError **error)
{
  if (!cw_history_can_undo(project->history) || !check_may_write(project, error))
    return FALSE;
  g_autofree char *what = g_strdup_printf("Undo: %s", cw_history_get_undo_name(project->history));
  cw_history_undo(project->history);
  if (write_state(project, cw_history_get_present(project->history), what, error))
    return TRUE;
  cw_history_redo(project->history);
  return FALSE;
}

gboolean cw_project_redo(CwProject *project, GError **error)
{
  if (!cw_history_can_redo(project->history) || !check_may_write(project, error))
    return FALSE;
  g_autofree char *what = g_strdup_printf("Redo: %s", cw_history_get_redo_name(project->history));
  cw_history_redo(project->history);
  if (write_state(project, cw_history_get_present(project->history), what, error))
    return TRUE;
  cw_history_undo(project->history);
  return FALSE;
}
