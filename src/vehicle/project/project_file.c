/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/project/new_file.h"
#include "vehicle/project/project_private.h"

#include <errno.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* --- opening --- */

/* A file from anywhere may be made to harm: nothing in it is run, and sizes are bounded before they are
 * believed. */
static gboolean make_defensive(sqlite3 *database, const char *path, GError **error)
{
  sqlite3_db_config(database, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
  sqlite3_db_config(database, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
  sqlite3_db_config(database, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, NULL);
  sqlite3_db_config(database, SQLITE_DBCONFIG_ENABLE_VIEW, 0, NULL);
  sqlite3_limit(database, SQLITE_LIMIT_LENGTH, (int)(CW_PROJECT_MOST_SAMPLES * sizeof(float) + 4096));
  sqlite3_limit(database, SQLITE_LIMIT_ATTACHED, 0);
  sqlite3_busy_timeout(database, 3000);
  return cw_sql_run(database, path,
                    "PRAGMA cell_size_check = ON; PRAGMA mmap_size = 0; PRAGMA temp_store = MEMORY", error);
}

/* Every commit is on the disk before it returns, and with it the folder's entry of the journal. */
static gboolean make_durable(sqlite3 *database, const char *path, GError **error)
{
  return cw_sql_run(database, path, "PRAGMA journal_mode = DELETE; PRAGMA synchronous = EXTRA", error);
}

/* Why the file cannot be written, NULL if it can. */
static const char *find_read_only_reason(const char *path)
{
  g_autofree char *folder = g_path_get_dirname(path);
  if (access(path, W_OK) != 0)
    return errno == EROFS ? "it lies on a medium that cannot be written" : "the file may not be written";
  if (access(folder, W_OK) != 0)
    return "its folder may not be written";
  return NULL;
}

/* Takes the lock if the file is to be written; sets the reason if it is not. */
static gboolean settle_access(CwFile *file, gboolean may_write, GError **error)
{
  const char *reason = may_write ? find_read_only_reason(file->path) : "it was opened to be read";
  if (!reason) {
    switch (cw_file_lock(file)) {
    case CW_LOCK_TAKEN:
      break;
    case CW_LOCK_HELD_HERE:
      reason = "it is already open in another window";
      break;
    case CW_LOCK_HELD_ELSEWHERE:
      reason = "another program has it open";
      break;
    case CW_LOCK_FAILED:
      g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_STORAGE, "%s: %s", file->path, g_strerror(errno));
      return FALSE;
    }
  }
  file->read_only_reason = g_strdup(reason);
  return TRUE;
}

/* Rolls back what a program that was ended in the middle of a change left, where the file may be written: one
 * that only reads cannot do it. SQLite knows by its locks whether the journal belongs to a program that still
 * runs. */
static void roll_back(const char *plain)
{
  g_autofree char *journal = g_strconcat(plain, "-journal", NULL);
  sqlite3 *database = NULL;

  if (access(journal, F_OK) != 0 || find_read_only_reason(plain))
    return;
  if (sqlite3_open_v2(plain, &database, SQLITE_OPEN_READWRITE, NULL) == SQLITE_OK &&
      make_defensive(database, plain, NULL))
    sqlite3_exec(database, "SELECT count(*) FROM sqlite_schema", NULL, NULL, NULL);
  sqlite3_close(database);
}

static gboolean check_is_file(const char *path, GError **error)
{
  struct stat about;
  if (stat(path, &about) != 0) {
    g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_STORAGE, "%s: %s", path,
                errno == ENOENT ? "there is no such file" : g_strerror(errno));
    return FALSE;
  }
  if (!S_ISREG(about.st_mode) || about.st_size == 0) {
    g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_NOT_A_PROJECT, "%s: is not a vehicle file%s", path,
                S_ISREG(about.st_mode) ? " but empty" : "");
    return FALSE;
  }
  return TRUE;
}

/* Copies a whole database into another. */
static gboolean copy_database(sqlite3 *from, sqlite3 *to, const char *path, GError **error)
{
  sqlite3_backup *backup = sqlite3_backup_init(to, "main", from, "main");
  if (!backup)
    return cw_sql_fail(to, path, error);
  sqlite3_backup_step(backup, -1);
  if (sqlite3_backup_finish(backup) == SQLITE_OK)
    return TRUE;
  return cw_sql_fail(to, path, error);
}

/* Writes a copy beside the file, under the first free name that says its version; returns the name. */
static char *write_copy(CwFile *file, int version, const void *bytes, gsize length, GError **error)
{
  const char *suffix = g_str_has_suffix(file->path, ".cabin") ? ".cabin" : "";
  g_autofree char *stem = g_strndup(file->path, strlen(file->path) - strlen(suffix));
  for (int k = 1; k < 100; k++) {
    g_autoptr(GError) local = NULL;
    g_autofree char *number = k > 1 ? g_strdup_printf("-%d", k) : g_strdup("");
    g_autofree char *name = g_strdup_printf("%s.version-%d%s%s", stem, version, number, suffix);
    if (cw_new_file_write(name, bytes, length, &local))
      return g_steal_pointer(&name);
    if (!g_error_matches(local, G_IO_ERROR, G_IO_ERROR_EXISTS)) {
      g_set_error_literal(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_STORAGE, local->message);
      return NULL;
    }
  }
  g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_STORAGE,
              "%s: a hundred older copies are kept already", file->path);
  return NULL;
}

/* Keeps the file as it is beside itself; returns the copy's name. */
static char *keep_copy(CwFile *file, int version, GError **error)
{
  sqlite3_int64 size = 0;
  unsigned char *bytes = sqlite3_serialize(file->database, "main", &size, 0);
  if (!bytes) {
    cw_sql_fail(file->database, file->path, error);
    return NULL;
  }
  char *name = write_copy(file, version, bytes, (gsize)size, error);
  sqlite3_free(bytes);
  return name;
}

/* Brings an older file to this version: in the file, with a copy kept, or, if that may not be written, in
 * memory. */
static gboolean migrate(CwFile *file, int version, GError **error)
{
  if (!file->read_only_reason) {
    file->migration_copy = keep_copy(file, version, error);
    return file->migration_copy && cw_schema_migrate(file->database, file->path, version, error);
  }
  sqlite3 *memory = NULL;
  if (sqlite3_open(":memory:", &memory) != SQLITE_OK ||
      !copy_database(file->database, memory, file->path, error)) {
    sqlite3_close(memory);
    return FALSE;
  }
  sqlite3_close(file->database);
  file->database = memory;
  return make_defensive(memory, file->path, error) && cw_schema_migrate(memory, file->path, version, error);
}

/* TRUE if the file is as long as it says. SQLite itself takes a last page that is cut for one with zeros. The
 * read transaction keeps a writer from changing the length meanwhile. */
static gboolean check_length(sqlite3 *database, const char *path, GError **error)
{
  gint64 n_pages = 0, page_size = 0;
  struct stat about;
  gboolean good = cw_sql_run(database, path, "BEGIN", error) &&
                  cw_sql_number(database, path, "SELECT count(*) FROM sqlite_schema", &n_pages, error) &&
                  cw_sql_number(database, path, "PRAGMA page_count", &n_pages, error) &&
                  cw_sql_number(database, path, "PRAGMA page_size", &page_size, error);
  if (good && stat(path, &about) == 0 && about.st_size < n_pages * page_size) {
    g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_DAMAGED,
                "%s: the file is damaged (it is cut short)", path);
    good = FALSE;
  }
  sqlite3_exec(database, "ROLLBACK", NULL, NULL, NULL);
  return good;
}

/* TRUE if the pages of the tables that are read at once hold together. The samples are the bulk of a file:
 * they are looked at when they are read, and all of them by cw_project_check(). */
static gboolean check_pages(sqlite3 *database, const char *path, GError **error)
{
  static const char *const checks[] = {"PRAGMA quick_check(document)", "PRAGMA quick_check(take)",
                                       "PRAGMA quick_check(work_log)"};
  for (guint i = 0; i < G_N_ELEMENTS(checks); i++) {
    g_autoptr(sqlite3_stmt) statement = cw_sql_prepare(database, path, checks[i], error);
    if (!statement)
      return FALSE;
    if (sqlite3_step(statement) != SQLITE_ROW)
      return cw_sql_fail(database, path, error);
    g_autofree char *verdict = cw_sql_verdict(statement);
    if (!g_str_equal(verdict, "ok")) {
      g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_DAMAGED, "%s: the file is damaged (%s)", path,
                  verdict);
      return FALSE;
    }
  }
  return TRUE;
}

/* Refuses what is no project file, or one of a later version; migrates an older one. */
static gboolean settle_version(CwFile *file, GError **error)
{
  gint64 application_id, version;
  if (!cw_sql_number(file->database, file->path, "PRAGMA application_id", &application_id, error) ||
      !cw_sql_number(file->database, file->path, "PRAGMA user_version", &version, error))
    return FALSE;
  if (application_id != CW_PROJECT_APPLICATION_ID || version < 1) {
    g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_NOT_A_PROJECT, "%s: is not a vehicle file",
                file->path);
    return FALSE;
  }
  if (version > CW_PROJECT_VERSION) {
    g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_NEWER,
                "%s: was written by a later version of this program (file version %d, known up to %d)",
                file->path, (int)version, CW_PROJECT_VERSION);
    return FALSE;
  }
  return version == CW_PROJECT_VERSION || migrate(file, (int)version, error);
}

/* Opens a project file defensively: see project.h. The caller closes it. */
CwFile *cw_file_open(const char *path, gboolean may_write, GError **error)
{
  if (!check_is_file(path, error))
    return NULL;
  CwFile *file = g_new0(CwFile, 1);
  file->path = g_strdup(path);
  file->lock = -1;
  if (!settle_access(file, may_write, error)) {
    cw_file_close(file);
    return NULL;
  }
  /* A name that begins with "file:" would be taken for an address. */
  g_autofree char *plain = g_path_is_absolute(path) ? g_strdup(path) : g_build_filename(".", path, NULL);
  int flags = file->read_only_reason ? SQLITE_OPEN_READONLY : SQLITE_OPEN_READWRITE;
  gboolean good;
  if (file->read_only_reason)
    roll_back(plain);
  if (sqlite3_open_v2(plain, &file->database, flags, NULL) != SQLITE_OK)
    good = cw_sql_fail(file->database, path, error);
  else
    good = make_defensive(file->database, path, error) && check_length(file->database, path, error) &&
           settle_version(file, error) && cw_schema_check(file->database, path, error) &&
           check_pages(file->database, path, error) &&
           (file->read_only_reason || make_durable(file->database, path, error));
  if (!good) {
    cw_file_close(file);
    return NULL;
  }
  return file;
}

/* Closes the file and gives the lock back. */
void cw_file_close(CwFile *file)
{
  if (!file)
    return;
  sqlite3_close(file->database);
  cw_file_unlock(file);
  g_free(file->path);
  g_free(file->read_only_reason);
  g_free(file->migration_copy);
  g_free(file);
}

/* --- creating --- */

/* Writes a new project file with a document; it is there whole or not at all, and replaces nothing. The
 * database is made in memory, so that no journal and no half-made file can be left. */
gboolean cw_file_create(const char *path, CwRecord *snapshot, const char *what, GError **error)
{
  sqlite3 *database = NULL;
  sqlite3_int64 size = 0;
  unsigned char *bytes = NULL;
  g_autoptr(GError) local = NULL;
  gboolean good = sqlite3_open(":memory:", &database) == SQLITE_OK && cw_schema_make(database, path, error) &&
                  cw_project_write_vehicle(database, path, snapshot, NULL, error) &&
                  cw_sql_log_work(database, path, what, error);
  if (good && !(bytes = sqlite3_serialize(database, "main", &size, 0)))
    good = cw_sql_fail(database, path, error);
  sqlite3_close(database);
  if (good && !cw_new_file_write(path, bytes, (gsize)size, &local)) {
    gboolean exists = g_error_matches(local, G_IO_ERROR, G_IO_ERROR_EXISTS);
    g_set_error_literal(error, CW_PROJECT_ERROR, exists ? CW_PROJECT_ERROR_EXISTS : CW_PROJECT_ERROR_STORAGE,
                        local->message);
    good = FALSE;
  }
  sqlite3_free(bytes);
  return good;
}
