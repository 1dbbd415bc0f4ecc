/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/project/project_private.h"

/* Versions 2 and 3. The document is the vehicle's JSON without what is in `take`: takes are many, long, and
 * stay as they are, so each has a row and an edit elsewhere does not write them again. `takes` lists the
 * rows' names in order; a document whose list is empty may hold takes itself. The samples are 32-bit floats,
 * lowest byte first, frame after frame. */
static const char schema[] =
    "CREATE TABLE document (id INTEGER PRIMARY KEY CHECK (id = 1), json TEXT NOT NULL, takes TEXT NOT NULL,"
    " crc32 INTEGER NOT NULL) STRICT;"
    "CREATE TABLE take (id TEXT PRIMARY KEY, json TEXT NOT NULL, crc32 INTEGER NOT NULL) STRICT;"
    "CREATE TABLE samples (name TEXT PRIMARY KEY, rate_hz REAL NOT NULL, channels INTEGER NOT NULL,"
    " frames INTEGER NOT NULL, crc32 INTEGER NOT NULL, data BLOB NOT NULL) STRICT;"
    "CREATE TABLE restore_point (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, made_utc TEXT NOT NULL,"
    " json TEXT NOT NULL, crc32 INTEGER NOT NULL) STRICT;"
    "CREATE TABLE work_log (id INTEGER PRIMARY KEY, done_utc TEXT NOT NULL, what TEXT NOT NULL) STRICT;";

/* Version 1 had all takes in the document, no checks and no log. */
static const char from_1_to_2[] =
    "ALTER TABLE document RENAME TO old_document; ALTER TABLE samples RENAME TO old_samples;"
    "ALTER TABLE restore_point RENAME TO old_restore_point;"
    "%s" /* the tables of version 2 */
    "INSERT INTO document SELECT id, json, '[]', cw_crc32(json || '[]') FROM old_document;"
    "INSERT INTO samples SELECT name, rate_hz, channels, frames, cw_crc32(data), data FROM old_samples;"
    "INSERT INTO restore_point SELECT id, name, made_utc, json, cw_crc32(json) FROM old_restore_point;"
    "DROP TABLE old_document; DROP TABLE old_samples; DROP TABLE old_restore_point;";

/* Version 2 kept of a feed what it was to be designed from. What is not as it was written stays so, to be
 * found out. */
static const char from_2_to_3[] =
    "UPDATE document SET json = cw_feeds(json), crc32 = cw_crc32(cw_feeds(json) || takes)"
    " WHERE crc32 = cw_crc32(json || takes);"
    "UPDATE restore_point SET json = cw_feeds(json), crc32 = cw_crc32(cw_feeds(json)) WHERE crc32 = "
    "cw_crc32(json);"
    "PRAGMA user_version = 3;";

/* Makes the tables in an empty database and marks it as a project file. */
gboolean cw_schema_make(sqlite3 *database, const char *path, GError **error)
{
  g_autofree char *marks = g_strdup_printf("PRAGMA application_id = %d; PRAGMA user_version = %d;",
                                           CW_PROJECT_APPLICATION_ID, CW_PROJECT_VERSION);
  return cw_sql_run(database, path, marks, error) && cw_sql_run(database, path, schema, error);
}

/* What a database is made of, as one text. */
static char *describe(sqlite3 *database, const char *path, GError **error)
{
  g_autoptr(sqlite3_stmt) statement =
      cw_sql_prepare(database, path, "SELECT type, name, sql FROM sqlite_schema ORDER BY type, name", error);
  if (!statement)
    return NULL;
  g_autoptr(GString) text = g_string_new(NULL);
  int code;
  while ((code = sqlite3_step(statement)) == SQLITE_ROW) {
    const char *sql = (const char *)sqlite3_column_text(statement, 2);
    g_string_append_printf(text, "%s %s %s\n", sqlite3_column_text(statement, 0),
                           sqlite3_column_text(statement, 1), sql ? sql : "");
  }
  if (code != SQLITE_DONE) {
    cw_sql_fail(database, path, error);
    return NULL;
  }
  return g_strdup(text->str);
}

/* TRUE if the database has the tables of this version and nothing besides: a trigger or view put into a file
 * by somebody else would run in our name. */
gboolean cw_schema_check(sqlite3 *database, const char *path, GError **error)
{
  sqlite3 *model = NULL;
  g_autofree char *wanted = NULL, *found = describe(database, path, error);
  if (!found)
    return FALSE;
  gboolean made = sqlite3_open(":memory:", &model) == SQLITE_OK && cw_schema_make(model, path, error) &&
                  (wanted = describe(model, path, error));
  sqlite3_close(model);
  if (!made)
    return FALSE;
  if (g_str_equal(wanted, found))
    return TRUE;
  g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_DAMAGED,
              "%s: the file does not have the tables of a vehicle file of version %d", path,
              CW_PROJECT_VERSION);
  return FALSE;
}

static void crc32_function(sqlite3_context *context, int n_arguments, sqlite3_value **arguments)
{
  const void *bytes = sqlite3_value_blob(arguments[0]);
  sqlite3_result_int64(context, cw_crc32(0, bytes, (gsize)sqlite3_value_bytes(arguments[0])));
}

static void feeds_function(sqlite3_context *context, int n_arguments, sqlite3_value **arguments)
{
  const char *json = (const char *)sqlite3_value_text(arguments[0]);
  char *changed = json ? cw_feeds_from_2_to_3(json) : NULL;
  if (changed)
    sqlite3_result_text(context, changed, -1, g_free);
  else
    sqlite3_result_value(context, arguments[0]);
}

/* Brings the tables of an older version to this one, in one transaction. */
gboolean cw_schema_migrate(sqlite3 *database, const char *path, int from_version, GError **error)
{
  const int flags = SQLITE_UTF8 | SQLITE_DETERMINISTIC | SQLITE_DIRECTONLY;
  g_assert(from_version == 1 || from_version == 2);
  G_GNUC_BEGIN_IGNORE_DEPRECATIONS
  g_autofree char *first = from_version == 1 ? g_strdup_printf(from_1_to_2, schema) : g_strdup("");
  G_GNUC_END_IGNORE_DEPRECATIONS
  sqlite3_create_function(database, "cw_crc32", 1, flags, NULL, crc32_function, NULL, NULL);
  sqlite3_create_function(database, "cw_feeds", 1, flags, NULL, feeds_function, NULL, NULL);
  if (cw_sql_run(database, path, "BEGIN IMMEDIATE", error) && cw_sql_run(database, path, first, error) &&
      cw_sql_run(database, path, from_2_to_3, error) && cw_sql_run(database, path, "COMMIT", error))
    return TRUE;
  sqlite3_exec(database, "ROLLBACK", NULL, NULL, NULL);
  return FALSE;
}
