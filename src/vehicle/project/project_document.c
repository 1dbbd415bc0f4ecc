/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/json/document.h"
#include "vehicle/json/json_scan.h"
#include "vehicle/json/json_write.h"
#include "vehicle/kinds/kinds.h"
#include "vehicle/project/project_private.h"
#include "vehicle/record/record_private.h"

#include <string.h>

/* --- reading --- */

static gboolean fail_damaged(const char *path, const char *what, GError **error)
{
  g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_DAMAGED, "%s: the file is damaged (%s)", path, what);
  return FALSE;
}

/* The document's JSON and the list of its takes' names. */
static gboolean read_document(CwFile *file, char **json, char **takes, GError **error)
{
  g_autoptr(sqlite3_stmt) statement = cw_sql_prepare(
      file->database, file->path, "SELECT json, takes, crc32 FROM document WHERE id = 1", error);
  if (!statement)
    return FALSE;
  int code = sqlite3_step(statement);
  if (code == SQLITE_DONE)
    return fail_damaged(file->path, "it has no document", error);
  if (code != SQLITE_ROW)
    return cw_sql_fail(file->database, file->path, error);
  const char *texts[2] = {(const char *)sqlite3_column_text(statement, 0),
                          (const char *)sqlite3_column_text(statement, 1)};
  if (!texts[0] || !texts[1])
    return fail_damaged(file->path, "the document is not as it was written", error);
  *json = g_strndup(texts[0], (gsize)sqlite3_column_bytes(statement, 0));
  *takes = g_strndup(texts[1], (gsize)sqlite3_column_bytes(statement, 1));
  guint32 crc = cw_crc32(cw_crc32(0, *json, strlen(*json)), *takes, strlen(*takes));
  return crc == sqlite3_column_int64(statement, 2) ||
         fail_damaged(file->path, "the document is not as it was written", error);
}

/* Every take that has a row, by its name. */
static GHashTable *read_takes(CwFile *file, GError **error)
{
  g_autoptr(sqlite3_stmt) statement =
      cw_sql_prepare(file->database, file->path, "SELECT id, json, crc32 FROM take", error);
  if (!statement)
    return NULL;
  g_autoptr(GHashTable) takes = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_object_unref);
  int code;
  while ((code = sqlite3_step(statement)) == SQLITE_ROW) {
    g_autofree char *json = cw_sql_checked_text(statement, 1, 2, "a take", file->path, error);
    CwRecord *take = json ? cw_record_from_json(cw_take_get_type(), json, -1, error) : NULL;
    g_autofree char *id = cw_sql_text(statement, 0);
    if (json && !take)
      g_prefix_error(error, "%s: take \"%s\": ", file->path, id);
    if (!take)
      return NULL;
    g_hash_table_replace(takes, g_strdup(cw_take_get_id(take)), take);
  }
  if (code == SQLITE_DONE)
    return g_steal_pointer(&takes);
  cw_sql_fail(file->database, file->path, error);
  return NULL;
}

/* Adds the takes that have a row, in the order of their list. */
static gboolean add_takes(CwFile *file, CwRecord *vehicle, const char *list, GError **error)
{
  g_autoptr(GHashTable) takes = read_takes(file, error);
  g_autoptr(GError) wrong = NULL;
  if (!takes)
    return FALSE;
  CwScan *scan = cw_scan_new(list, -1);
  gboolean all = TRUE;
  for (gboolean begun = cw_scan_begin_array(scan); all && begun && cw_scan_next_item(scan);) {
    g_autofree char *id = cw_scan_text(scan);
    CwRecord *take = id ? g_hash_table_lookup(takes, id) : NULL;
    if ((all = take && !cw_record_get_parent(take)))
      cw_list_append(cw_vehicle_get_takes(vehicle), take);
  }
  gboolean good = cw_scan_finish(scan, &wrong) && all;
  return good || fail_damaged(file->path, "its takes are not those of its list", error);
}

/* The vehicle that the file holds; the caller owns it. *takes_apart says whether its takes have rows. */
CwRecord *cw_project_read_vehicle(CwFile *file, gboolean *takes_apart, GError **error)
{
  g_autofree char *json = NULL, *list = NULL;
  if (!read_document(file, &json, &list, error))
    return NULL;
  g_autoptr(CwRecord) vehicle = cw_record_from_json(cw_vehicle_get_type(), json, -1, error);
  if (!vehicle) {
    g_prefix_error(error, "%s: ", file->path);
    return NULL;
  }
  *takes_apart = strcmp(list, "[]") != 0;
  if (*takes_apart && !add_takes(file, vehicle, list, error))
    return NULL;
  if (*takes_apart && !cw_record_check(vehicle, error)) {
    g_prefix_error(error, "%s: ", file->path);
    return NULL;
  }
  return g_steal_pointer(&vehicle);
}

/* --- writing --- */

/* The takes of a snapshot by their names: what is in the file once the snapshot is written. */
GHashTable *cw_project_takes_of(CwRecord *snapshot)
{
  GHashTable *takes = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_object_unref);
  CwList *list = cw_vehicle_get_takes(snapshot);
  for (guint i = 0; i < cw_list_get_length(list); i++) {
    CwRecord *take = cw_list_get(list, i);
    g_hash_table_replace(takes, g_strdup(cw_take_get_id(take)), g_object_ref(take));
  }
  return takes;
}

static gboolean write_take(sqlite3 *database, const char *path, CwRecord *take, GError **error)
{
  g_autoptr(sqlite3_stmt) statement =
      cw_sql_prepare(database, path, "REPLACE INTO take (id, json, crc32) VALUES (?, ?, ?)", error);
  g_autoptr(GString) json = g_string_new(NULL);
  if (!statement)
    return FALSE;
  cw_record_append_item_json(json, take);
  sqlite3_bind_text(statement, 1, cw_take_get_id(take), -1, SQLITE_STATIC);
  sqlite3_bind_text64(statement, 2, json->str, json->len, SQLITE_STATIC, SQLITE_UTF8);
  sqlite3_bind_int64(statement, 3, cw_crc32(0, json->str, json->len));
  return cw_sql_finish(statement, path, error);
}

static gboolean delete_take(sqlite3 *database, const char *path, const char *id, GError **error)
{
  g_autoptr(sqlite3_stmt) statement = cw_sql_prepare(database, path, "DELETE FROM take WHERE id = ?", error);
  if (!statement)
    return FALSE;
  sqlite3_bind_text(statement, 1, id, -1, SQLITE_STATIC);
  return cw_sql_finish(statement, path, error);
}

/* Brings the rows of the takes from what is stored to what the snapshot has. Snapshots share what did not
 * change, so that a take that is the same object is the same take. */
static gboolean write_takes(sqlite3 *database, const char *path, CwRecord *snapshot, GHashTable *stored,
                            GError **error)
{
  g_autoptr(GHashTable) wanted = cw_project_takes_of(snapshot);
  GHashTableIter at;
  gpointer id, take;
  if (stored)
    g_hash_table_iter_init(&at, stored);
  while (stored && g_hash_table_iter_next(&at, &id, NULL))
    if (!g_hash_table_contains(wanted, id) && !delete_take(database, path, id, error))
      return FALSE;
  g_hash_table_iter_init(&at, wanted);
  while (g_hash_table_iter_next(&at, &id, &take))
    if ((!stored || g_hash_table_lookup(stored, id) != take) && !write_take(database, path, take, error))
      return FALSE;
  return TRUE;
}

static char *list_takes(CwRecord *snapshot)
{
  CwList *takes = cw_vehicle_get_takes(snapshot);
  GString *list = g_string_new("[");
  for (guint i = 0; i < cw_list_get_length(takes); i++) {
    g_string_append(list, i ? "," : "");
    cw_append_json_text(list, cw_take_get_id(cw_list_get(takes, i)));
  }
  g_string_append_c(list, ']');
  return g_string_free(list, FALSE);
}

/* Writes a vehicle's snapshot where `stored` (NULL for none) has rows already; within the caller's
 * transaction. */
gboolean cw_project_write_vehicle(sqlite3 *database, const char *path, CwRecord *snapshot, GHashTable *stored,
                                  GError **error)
{
  g_autoptr(sqlite3_stmt) statement = cw_sql_prepare(
      database, path, "REPLACE INTO document (id, json, takes, crc32) VALUES (1, ?, ?, ?)", error);
  g_autoptr(GString) json = g_string_sized_new(65536);
  g_autofree char *list = list_takes(snapshot);
  if (!statement || !write_takes(database, path, snapshot, stored, error))
    return FALSE;
  cw_record_append_json(json, snapshot, "takes");
  sqlite3_bind_text64(statement, 1, json->str, json->len, SQLITE_STATIC, SQLITE_UTF8);
  sqlite3_bind_text(statement, 2, list, -1, SQLITE_STATIC);
  sqlite3_bind_int64(statement, 3, cw_crc32(cw_crc32(0, json->str, json->len), list, strlen(list)));
  return cw_sql_finish(statement, path, error);
}
