/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/project/project.h"

#include <sqlite3.h>

G_BEGIN_DECLS

#define CW_PROJECT_APPLICATION_ID 0x43624e31 /* "CbN1" */
#define CW_PROJECT_VERSION 3
#define CW_PROJECT_MOST_SAMPLES (64u * 1024 * 1024)

/* An open database and what had to be done to open it. */
typedef struct {
  sqlite3 *database;
  int lock;               /* file descriptor that holds the lock, -1 for none */
  char *path;             /* for messages */
  char *read_only_reason; /* NULL if it may be written */
  char *migration_copy;   /* where the file as it was before migration is kept, or NULL */
  guint64 device, inode;  /* of a locked file */
} CwFile;

struct _CwProject {
  GObject parent_instance;
  CwFile *file;
  CwRecord *vehicle;
  CwRecord *saved; /* snapshot: what the file holds */
  CwHistory *history;
  GHashTable *stored;  /* name -> snapshot: the takes that have a row in the file */
  GHashTable *pending; /* name -> CwSamples: put since the last commit */
};

/* project_file.c */
CwFile *cw_file_open(const char *path, gboolean may_write, GError **error);
void cw_file_close(CwFile *file);
gboolean cw_file_create(const char *path, CwRecord *snapshot, const char *what, GError **error);
gboolean cw_file_is_whole(sqlite3 *database, const char *path, GError **error);

/* project_lock.c */
typedef enum { CW_LOCK_TAKEN, CW_LOCK_HELD_HERE, CW_LOCK_HELD_ELSEWHERE, CW_LOCK_FAILED } CwLockResult;
CwLockResult cw_file_lock(CwFile *file);
void cw_file_unlock(CwFile *file);

/* project_schema.c */
gboolean cw_schema_make(sqlite3 *database, const char *path, GError **error);
gboolean cw_schema_check(sqlite3 *database, const char *path, GError **error);
gboolean cw_schema_migrate(sqlite3 *database, const char *path, int from_version, GError **error);

/* feeds_of_version_2.c */

/* A vehicle's JSON of version 2 with its feeds in the fields of version 3, the caller's; NULL where it has
 * none to be changed, or is no vehicle's. */
char *cw_feeds_from_2_to_3(const char *json);

/* project_sql.c */
guint32 cw_crc32(guint32 before, const void *bytes, gsize length);
gboolean cw_sql_fail(sqlite3 *database, const char *path, GError **error);
gboolean cw_sql_run(sqlite3 *database, const char *path, const char *sql, GError **error);
sqlite3_stmt *cw_sql_prepare(sqlite3 *database, const char *path, const char *sql, GError **error);
gboolean cw_sql_finish(sqlite3_stmt *statement, const char *path, GError **error);
gboolean cw_sql_number(sqlite3 *database, const char *path, const char *sql, gint64 *value, GError **error);
char *cw_sql_checked_text(sqlite3_stmt *statement, int text_column, int crc_column, const char *what,
                          const char *path, GError **error);
char *cw_sql_text(sqlite3_stmt *statement, int column);
char *cw_sql_verdict(sqlite3_stmt *statement);
gboolean cw_sql_log_work(sqlite3 *database, const char *path, const char *what, GError **error);

/* project_document.c */
CwRecord *cw_project_read_vehicle(CwFile *file, gboolean *takes_apart, GError **error);
gboolean cw_project_write_vehicle(sqlite3 *database, const char *path, CwRecord *snapshot, GHashTable *stored,
                                  GError **error);
GHashTable *cw_project_takes_of(CwRecord *snapshot);

/* project_samples.c */
gboolean cw_project_write_pending(CwProject *project, GError **error);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(sqlite3_stmt, sqlite3_finalize)

G_END_DECLS
