/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/project/project_private.h"

#include <string.h>

/* clang-format off */
G_DEFINE_QUARK(cw-project-error-quark, cw_project_error)
/* clang-format on */

char *cw_now_utc(void)
{
  g_autoptr(GDateTime) now = g_date_time_new_now_utc();
  return g_date_time_format(now, "%Y-%m-%dT%H:%M:%SZ");
}

/* The cyclic redundancy check of ISO/IEC 3309 (polynomial 0x04c11db7, reflected), as many formats use it;
 * goes on from that of what came before, or from 0. */
guint32 cw_crc32(guint32 before, const void *bytes, gsize length)
{
  static guint32 table[256];
  static gsize made;
  if (g_once_init_enter(&made)) {
    for (guint32 i = 0; i < 256; i++) {
      guint32 value = i;
      for (int bit = 0; bit < 8; bit++)
        value = value & 1 ? 0xedb88320u ^ value >> 1 : value >> 1;
      table[i] = value;
    }
    g_once_init_leave(&made, 1);
  }
  const guchar *at = bytes;
  guint32 crc = ~before;
  for (gsize i = 0; i < length; i++)
    crc = table[(crc ^ at[i]) & 0xff] ^ crc >> 8;
  return ~crc;
}

/* Puts the database's last fault into words for people, with the path in front. Always FALSE. */
gboolean cw_sql_fail(sqlite3 *database, const char *path, GError **error)
{
  int code = sqlite3_extended_errcode(database);
  switch (code & 0xff) {
  case SQLITE_FULL:
    g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_STORAGE, "%s: the disk is full", path);
    break;
  case SQLITE_NOTADB:
    g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_NOT_A_PROJECT, "%s: is not a vehicle file", path);
    break;
  case SQLITE_CORRUPT:
    g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_DAMAGED, "%s: the file is damaged", path);
    break;
  case SQLITE_BUSY:
  case SQLITE_LOCKED:
    g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_STORAGE,
                "%s: another program is writing the file, try again", path);
    break;
  case SQLITE_READONLY:
    g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_READ_ONLY,
                code == SQLITE_READONLY_ROLLBACK
                    ? "%s: was left in the middle of a change; open it once where it may be written"
                    : "%s: may not be written",
                path);
    break;
  default:
    g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_STORAGE, "%s: cannot be read or written (%s)", path,
                sqlite3_errmsg(database));
  }
  return FALSE;
}

/* Runs statements that return nothing. */
gboolean cw_sql_run(sqlite3 *database, const char *path, const char *sql, GError **error)
{
  if (sqlite3_exec(database, sql, NULL, NULL, NULL) == SQLITE_OK)
    return TRUE;
  return cw_sql_fail(database, path, error);
}

/* One statement, ready for its values; NULL on a fault. */
sqlite3_stmt *cw_sql_prepare(sqlite3 *database, const char *path, const char *sql, GError **error)
{
  sqlite3_stmt *statement = NULL;
  if (sqlite3_prepare_v2(database, sql, -1, &statement, NULL) == SQLITE_OK)
    return statement;
  cw_sql_fail(database, path, error);
  return NULL;
}

/* Runs a statement that returns no row. */
gboolean cw_sql_finish(sqlite3_stmt *statement, const char *path, GError **error)
{
  if (sqlite3_step(statement) == SQLITE_DONE)
    return TRUE;
  return cw_sql_fail(sqlite3_db_handle(statement), path, error);
}

/* The whole number that a query returns. */
gboolean cw_sql_number(sqlite3 *database, const char *path, const char *sql, gint64 *value, GError **error)
{
  g_autoptr(sqlite3_stmt) statement = cw_sql_prepare(database, path, sql, error);
  if (!statement)
    return FALSE;
  if (sqlite3_step(statement) != SQLITE_ROW)
    return cw_sql_fail(database, path, error);
  *value = sqlite3_column_int64(statement, 0);
  return TRUE;
}

/* A text of the row at hand, if it is the one that was written; the caller frees it. */
char *cw_sql_checked_text(sqlite3_stmt *statement, int text_column, int crc_column, const char *what,
                          const char *path, GError **error)
{
  const char *text = (const char *)sqlite3_column_text(statement, text_column);
  gsize length = (gsize)sqlite3_column_bytes(statement, text_column);
  if (!text || strlen(text) != length ||
      cw_crc32(0, text, length) != sqlite3_column_int64(statement, crc_column)) {
    g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_DAMAGED,
                "%s: the file is damaged (%s is not as it was written)", path, what);
    return NULL;
  }
  return g_strndup(text, length);
}

/* A text of the row at hand that can be shown, whatever a damaged file holds there; the caller frees it. */
char *cw_sql_text(sqlite3_stmt *statement, int column)
{
  const char *text = (const char *)sqlite3_column_text(statement, column);
  return g_utf8_make_valid(text ? text : "", -1);
}

/* What a check of pages says in the row at hand, on one line; the caller frees it. */
char *cw_sql_verdict(sqlite3_stmt *statement)
{
  const char *said = (const char *)sqlite3_column_text(statement, 0);
  char *verdict = g_utf8_make_valid(said ? said : "no verdict", -1);
  return g_strdelimit(verdict, "\n", ' ');
}

/* Adds a line to the log of the work. */
gboolean cw_sql_log_work(sqlite3 *database, const char *path, const char *what, GError **error)
{
  g_autoptr(sqlite3_stmt) statement =
      cw_sql_prepare(database, path, "INSERT INTO work_log (done_utc, what) VALUES (?, ?)", error);
  g_autofree char *now = cw_now_utc();
  if (!statement)
    return FALSE;
  sqlite3_bind_text(statement, 1, now, -1, SQLITE_STATIC);
  sqlite3_bind_text(statement, 2, what, -1, SQLITE_STATIC);
  return cw_sql_finish(statement, path, error);
}
