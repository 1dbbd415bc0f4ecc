/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/project/project_private.h"

#include <errno.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

/* A byte that SQLite's own locks (from 0x40000000) leave alone. The lock belongs to the open file, not to the
 * process: it goes with the process however that ends, and nothing is left that could be stale. */
#define LOCK_BYTE 0x3fffff00

/* Files that this process has locked. Closing any descriptor of a file drops the process's SQLite locks on
 * it, so such a file must not be opened here a second time just to try the lock. */
static GMutex mutex;
static GList *held;

static gboolean is_held(guint64 device, guint64 inode)
{
  for (GList *at = held; at; at = at->next) {
    const CwFile *file = at->data;
    if (file->device == device && file->inode == inode)
      return TRUE;
  }
  return FALSE;
}

/* Takes the lock of a file that is to be written, or says who has it. */
CwLockResult cw_file_lock(CwFile *file)
{
  struct stat about;
  g_autoptr(GMutexLocker) locker G_GNUC_UNUSED = g_mutex_locker_new(&mutex);
  if (stat(file->path, &about) != 0)
    return CW_LOCK_FAILED;
  if (is_held(about.st_dev, about.st_ino))
    return CW_LOCK_HELD_HERE;
  int fd = open(file->path, O_RDWR | O_CLOEXEC);
  if (fd < 0)
    return CW_LOCK_FAILED;
  struct flock wanted = {.l_type = F_WRLCK, .l_whence = SEEK_SET, .l_start = LOCK_BYTE, .l_len = 1};
  if (fcntl(fd, F_OFD_SETLK, &wanted) != 0 && (errno == EAGAIN || errno == EACCES)) {
    close(fd);
    return CW_LOCK_HELD_ELSEWHERE;
  }
  /* where the file system knows no locks, nobody else can have one */
  file->lock = fd;
  file->device = about.st_dev;
  file->inode = about.st_ino;
  held = g_list_prepend(held, file);
  return CW_LOCK_TAKEN;
}

/* Gives the lock back; after the database is closed. */
void cw_file_unlock(CwFile *file)
{
  g_autoptr(GMutexLocker) locker G_GNUC_UNUSED = g_mutex_locker_new(&mutex);
  if (file->lock < 0)
    return;
  held = g_list_remove(held, file);
  close(file->lock);
  file->lock = -1;
}
