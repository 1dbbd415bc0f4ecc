/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/input_file.h"
#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <sys/stat.h>
#include <unistd.h>

static gboolean refuse_kind(const char *path, mode_t mode, GError **error)
{
  return cw_job_refuse(error, CW_JOB_ERROR_FILE, "%s: a file was expected, not a %s", path,
                       S_ISDIR(mode)    ? "folder"
                       : S_ISFIFO(mode) ? "pipe"
                       : S_ISSOCK(mode) ? "socket"
                                        : "device");
}

/* Opens without waiting for the other end of a pipe. */
static int open_plain(const char *path, struct stat *found, GError **error)
{
  int descriptor = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC);
  int fault = errno;

  if (descriptor < 0 && (fault == ENOENT || stat(path, found) != 0 || S_ISREG(found->st_mode))) {
    cw_job_refuse(error, CW_JOB_ERROR_FILE, "%s: %s", path,
                  fault == ENOENT ? "there is no such file" : g_strerror(fault));
    return -1;
  }
  if (descriptor >= 0 && fstat(descriptor, found) == 0 && S_ISREG(found->st_mode))
    return descriptor;
  if (descriptor >= 0)
    close(descriptor);
  refuse_kind(path, found->st_mode, error);
  return -1;
}

gboolean cw_input_is_plain(const char *path, GError **error)
{
  struct stat found;
  int descriptor = open_plain(path, &found, error);

  if (descriptor >= 0)
    close(descriptor);
  return descriptor >= 0;
}

/* Reads until the end, which may come sooner or later than the length said: somebody may be writing. */
static char *read_all(int descriptor, gsize expected, gsize most_bytes, gsize *length)
{
  gsize room = expected + 1;
  char *bytes = g_malloc(room + 1);

  *length = 0;
  for (;;) {
    gssize got = read(descriptor, bytes + *length, room - *length);
    if (got < 0 && errno == EINTR)
      continue;
    if (got < 0 || *length + (gsize)got > most_bytes) {
      g_free(bytes);
      if (got >= 0)
        errno = EFBIG;
      return NULL;
    }
    *length += (gsize)got;
    if (got == 0)
      break;
    if (*length == room) {
      room = room * 2;
      bytes = g_realloc(bytes, room + 1);
    }
  }
  bytes[*length] = '\0';
  return bytes;
}

char *cw_job_read_file(const char *path, gsize most_bytes, gsize *length, GError **error)
{
  struct stat found;
  int descriptor = open_plain(path, &found, error);
  char *bytes = NULL;

  if (descriptor < 0)
    return NULL;
  errno = EFBIG;
  if ((guint64)found.st_size <= most_bytes)
    bytes = read_all(descriptor, (gsize)found.st_size, most_bytes, length);
  int fault = errno;
  close(descriptor);
  if (!bytes && fault == EFBIG)
    cw_job_refuse(error, CW_JOB_ERROR_FILE, "%s: longer than the %" G_GSIZE_FORMAT " MiB that are read", path,
                  most_bytes >> 20);
  else if (!bytes)
    cw_job_refuse(error, CW_JOB_ERROR_FILE, "%s: cannot be read: %s", path, g_strerror(fault));
  return bytes;
}
