/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "failing-vfs.h"

#include <sqlite3.h>
#include <string.h>

typedef struct {
  sqlite3_file base;
  sqlite3_file *real; /* follows in the same memory */
} File;

static sqlite3_vfs *real_vfs;
static sqlite3_vfs shim;
static guint n_changes, fails_at;
static gboolean fails_on;
static int fails_with;

static gboolean fails_now(void)
{
  n_changes++;
  return fails_at && (n_changes == fails_at || (fails_on && n_changes > fails_at));
}

static sqlite3_file *real_of(sqlite3_file *file)
{
  return ((File *)file)->real;
}

static int file_close(sqlite3_file *file)
{
  return real_of(file)->pMethods->xClose(real_of(file));
}

static int file_read(sqlite3_file *file, void *into, int n, sqlite3_int64 at)
{
  return real_of(file)->pMethods->xRead(real_of(file), into, n, at);
}

static int file_write(sqlite3_file *file, const void *from, int n, sqlite3_int64 at)
{
  if (!fails_now())
    return real_of(file)->pMethods->xWrite(real_of(file), from, n, at);
  real_of(file)->pMethods->xWrite(real_of(file), from, n / 2, at);
  return fails_with;
}

static int file_truncate(sqlite3_file *file, sqlite3_int64 size)
{
  return fails_now() ? fails_with : real_of(file)->pMethods->xTruncate(real_of(file), size);
}

static int file_sync(sqlite3_file *file, int flags)
{
  return fails_now() ? fails_with : real_of(file)->pMethods->xSync(real_of(file), flags);
}

static int file_size(sqlite3_file *file, sqlite3_int64 *size)
{
  return real_of(file)->pMethods->xFileSize(real_of(file), size);
}

static int file_lock(sqlite3_file *file, int level)
{
  return real_of(file)->pMethods->xLock(real_of(file), level);
}

static int file_unlock(sqlite3_file *file, int level)
{
  return real_of(file)->pMethods->xUnlock(real_of(file), level);
}

static int file_check_lock(sqlite3_file *file, int *locked)
{
  return real_of(file)->pMethods->xCheckReservedLock(real_of(file), locked);
}

static int file_control(sqlite3_file *file, int op, void *argument)
{
  return real_of(file)->pMethods->xFileControl(real_of(file), op, argument);
}

static int file_sector_size(sqlite3_file *file)
{
  return real_of(file)->pMethods->xSectorSize(real_of(file));
}

static int file_traits(sqlite3_file *file)
{
  return real_of(file)->pMethods->xDeviceCharacteristics(real_of(file));
}

static const sqlite3_io_methods methods = {
    .iVersion = 1,
    .xClose = file_close,
    .xRead = file_read,
    .xWrite = file_write,
    .xTruncate = file_truncate,
    .xSync = file_sync,
    .xFileSize = file_size,
    .xLock = file_lock,
    .xUnlock = file_unlock,
    .xCheckReservedLock = file_check_lock,
    .xFileControl = file_control,
    .xSectorSize = file_sector_size,
    .xDeviceCharacteristics = file_traits,
};

static int vfs_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *file, int flags, int *got_flags)
{
  File *mine = (File *)file;
  mine->real = (sqlite3_file *)&mine[1];
  int code = real_vfs->xOpen(real_vfs, name, mine->real, flags, got_flags);
  mine->base.pMethods = code == SQLITE_OK ? &methods : NULL;
  return code;
}

static int vfs_delete(sqlite3_vfs *vfs, const char *name, int sync_folder)
{
  return fails_now() ? fails_with : real_vfs->xDelete(real_vfs, name, sync_folder);
}

/* Puts the layer in front of the disk for all databases opened from now on. */
void failing_vfs_install(void)
{
  real_vfs = sqlite3_vfs_find(NULL);
  shim = *real_vfs;
  shim.zName = "failing";
  shim.pNext = NULL;
  shim.szOsFile = (int)sizeof(File) + real_vfs->szOsFile;
  shim.xOpen = vfs_open;
  shim.xDelete = vfs_delete;
  g_assert_cmpint(sqlite3_vfs_register(&shim, 1), ==, SQLITE_OK);
}

/* Begins to count anew. */
void failing_vfs_set(guint n, gboolean stays, int code)
{
  n_changes = 0;
  fails_at = n;
  fails_on = stays;
  fails_with = code;
}

/* Changes since. */
guint failing_vfs_count(void)
{
  return n_changes;
}
