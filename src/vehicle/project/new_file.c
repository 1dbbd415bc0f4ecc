/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/project/new_file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <unistd.h>

static gboolean refuse(const char *path, int code, GError **error)
{
  g_set_error(error, G_IO_ERROR, g_io_error_from_errno(code), "%s: %s", path,
              code == EEXIST   ? "is already there"
              : code == ENOSPC ? "the disk is full"
                               : g_strerror(code));
  return FALSE;
}

/* Writes all and waits until the disk has it; 0 or an errno. */
static int write_all(int fd, const char *bytes, gsize length)
{
  while (length) {
    gssize n = write(fd, bytes, length);
    if (n < 0 && errno == EINTR)
      continue;
    if (n < 0)
      return errno;
    bytes += n;
    length -= (gsize)n;
  }
  return fsync(fd) == 0 ? 0 : errno;
}

/* A name entered in a folder is only safe once the folder is. */
static void sync_folder(const char *folder)
{
  int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (fd < 0)
    return;
  if (fsync(fd) != 0)
    g_debug("%s: cannot be synced", folder); /* some file systems do not know how */
  close(fd);
}

/* A file without a name that gets its name when it is whole: nothing is left behind whatever happens. 0 or an
 * errno; EOPNOTSUPP where the file system cannot. */
static int write_nameless(const char *folder, const char *path, const void *bytes, gsize length)
{
  int fd = open(folder, O_TMPFILE | O_WRONLY | O_CLOEXEC, 0666);
  if (fd < 0)
    return errno == EISDIR || errno == EINVAL || errno == ENOENT ? EOPNOTSUPP : errno;
  int code = write_all(fd, bytes, length);
  g_autofree char *nameless = g_strdup_printf("/proc/self/fd/%d", fd);
  if (code == 0 && linkat(AT_FDCWD, nameless, AT_FDCWD, path, AT_SYMLINK_FOLLOW) != 0)
    code = errno == ENOENT || errno == EPERM ? EOPNOTSUPP : errno;
  close(fd);
  return code;
}

/* The same under a name of its own, for file systems without nameless files. */
static int write_beside(const char *path, const void *bytes, gsize length)
{
  g_autofree char *beside = g_strdup_printf("%s.%08x.part", path, g_random_int());
  int fd = open(beside, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
  if (fd < 0)
    return errno;
  int code = write_all(fd, bytes, length);
  if (close(fd) != 0 && code == 0)
    code = errno;
  if (code == 0 && renameat2(AT_FDCWD, beside, AT_FDCWD, path, RENAME_NOREPLACE) != 0)
    code = errno;
  if (code == EINVAL && (code = link(beside, path) == 0 ? 0 : errno) == 0)
    unlink(beside);
  if (code != 0)
    unlink(beside);
  return code;
}

gboolean cw_new_file_write(const char *path, const void *bytes, gsize length, GError **error)
{
  g_autofree char *folder = g_path_get_dirname(path);
  if (access(path, F_OK) == 0)
    return refuse(path, EEXIST, error);
  int code = write_nameless(folder, path, bytes, length);
  if (code == EOPNOTSUPP)
    code = write_beside(path, bytes, length);
  if (code != 0)
    return refuse(path, code, error);
  sync_folder(folder);
  return TRUE;
}
