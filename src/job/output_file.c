/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/output_file.h"
#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define LOOK_BYTES 4096
#define SAME_BYTES 16

/* The first bytes of what stands there; 0 where there is nothing or it cannot be read. */
static gsize look(const char *path, char *bytes)
{
  int descriptor = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC);
  gssize got = descriptor < 0 ? 0 : read(descriptor, bytes, LOOK_BYTES);

  if (descriptor >= 0)
    close(descriptor);
  return got > 0 ? (gsize)got : 0;
}

static gboolean holds(const char *bytes, gsize length, const char *mark)
{
  return memmem(bytes, length, mark, strlen(mark)) != NULL;
}

/* A paper tells its maker, somewhere among its last objects. */
static gboolean is_own_paper(const char *path)
{
  g_autoptr(GMappedFile) map = g_mapped_file_new(path, FALSE, NULL);

  return map && g_mapped_file_get_length(map) > 0 &&
         holds(g_mapped_file_get_contents(map), g_mapped_file_get_length(map), "(Cabinwright)");
}

/* Both begin with the same line, as far as one looks. */
static gboolean begin_alike(const char *head, gsize length, const char *there, gsize found)
{
  for (gsize i = 0; i < SAME_BYTES && i < length; i++) {
    if (i >= found || head[i] != there[i])
      return FALSE;
    if (head[i] == '\n' && i > 1)
      return TRUE;
  }
  return length > 0;
}

/* The forms of a coefficient table, of which one may replace another. */
static gboolean is_table(const char *bytes, gsize length)
{
  static const char *const heads[] = {"{\"format\":\"cabinwright-table\"", "channel,number,name,left,right,",
                                      "channel\tnumber\tname\tleft\tright\t",
                                      "/* Coefficients b0 b1 b2 a1 a2 of "};

  for (guint i = 0; i < G_N_ELEMENTS(heads); i++)
    if (length >= strlen(heads[i]) && memcmp(bytes, heads[i], strlen(heads[i])) == 0)
      return TRUE;
  return FALSE;
}

/* Whether what stands there is of the kind that is to be written, and this program's. */
static gboolean own(const char *path, const char *head, gsize length, const char *there, gsize found)
{
  if (length >= 4 && memcmp(head, "RIFF", 4) == 0)
    return found >= 4 && memcmp(there, "RIFF", 4) == 0 && holds(there, found, "Cabinwright");
  if (is_table(head, length) && is_table(there, found))
    return TRUE;
  if (!begin_alike(head, length, there, found))
    return FALSE;
  return memcmp(there, "%PDF", 4) != 0 || is_own_paper(path);
}

gboolean cw_output_allowed(const char *path, const char *head, gsize length, CwReplace replace,
                           GError **error)
{
  char there[LOOK_BYTES];

  if (!g_file_test(path, G_FILE_TEST_EXISTS))
    return TRUE;
  if (!g_file_test(path, G_FILE_TEST_IS_REGULAR))
    return cw_job_refuse(error, CW_JOB_ERROR_FILE, "%s: a file was expected, not a folder, device or pipe",
                         path);
  gsize found = look(path, there);
  if (found >= 16 && memcmp(there, "SQLite format 3", 16) == 0)
    return cw_job_refuse(error, CW_JOB_ERROR_FILE,
                         "%s: is a vehicle file, which nothing else may replace; choose another name", path);
  if (found == 0 || replace == CW_REPLACE_ANY || own(path, head, length, there, found))
    return TRUE;
  return cw_job_refuse(error, CW_JOB_ERROR_FOREIGN,
                       "%s: holds something that this program did not write; choose another name", path);
}

char *cw_output_place(const char *path)
{
  char *real = g_file_test(path, G_FILE_TEST_IS_SYMLINK) ? realpath(path, NULL) : NULL;

  return real ? real : g_strdup(path);
}

/* One name a file, so that what an ended program left is used up by the next. */
static char *name_between(const char *path)
{
  g_autofree char *folder = g_path_get_dirname(path), *name = g_path_get_basename(path);

  return g_strdup_printf("%s/.%s.cabinwright-new", folder, name);
}

int cw_output_open(const char *path)
{
  g_autofree char *folder = g_path_get_dirname(path), *between = name_between(path);
  int descriptor = open(folder, O_TMPFILE | O_RDWR | O_CLOEXEC, 0666);

  if (descriptor >= 0 || (errno != EOPNOTSUPP && errno != EISDIR && errno != EINVAL))
    return descriptor;
  g_unlink(between); /* a memory stick's file system knows no nameless files */
  return open(between, O_CREAT | O_EXCL | O_RDWR | O_CLOEXEC, 0666);
}

static gboolean is_nameless(int descriptor)
{
  struct stat found;

  return fstat(descriptor, &found) == 0 && found.st_nlink == 0;
}

/* A name can be given to a nameless file only where there is none yet; what is there is then replaced by a
 * rename. */
static gboolean give_name(int descriptor, const char *path)
{
  g_autofree char *open_file = g_strdup_printf("/proc/self/fd/%d", descriptor), *between = name_between(path);

  if (is_nameless(descriptor)) {
    if (linkat(AT_FDCWD, open_file, AT_FDCWD, path, AT_SYMLINK_FOLLOW) == 0)
      return TRUE;
    if (errno != EEXIST)
      return FALSE;
    g_unlink(between);
    if (linkat(AT_FDCWD, open_file, AT_FDCWD, between, AT_SYMLINK_FOLLOW) != 0)
      return FALSE;
  }
  if (g_rename(between, path) == 0)
    return TRUE;
  int fault = errno;
  g_unlink(between);
  errno = fault;
  return FALSE;
}

/* The folder's entry too has to be on the disk. */
static void settle_folder(const char *path)
{
  g_autofree char *folder = g_path_get_dirname(path);
  int descriptor = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);

  if (descriptor < 0)
    return;
  fsync(descriptor);
  close(descriptor);
}

void cw_output_abandon(int descriptor, const char *path)
{
  g_autofree char *between = name_between(path);

  if (!is_nameless(descriptor))
    g_unlink(between);
  close(descriptor);
}

gboolean cw_output_finish(int descriptor, const char *path)
{
  if (fsync(descriptor) != 0 || !give_name(descriptor, path)) {
    int fault = errno;
    cw_output_abandon(descriptor, path);
    errno = fault;
    return FALSE;
  }
  close(descriptor);
  settle_folder(path);
  return TRUE;
}

static gboolean write_all(int descriptor, const char *data, gsize length)
{
  while (length > 0) {
    gssize put = write(descriptor, data, length);
    if (put < 0 && errno == EINTR)
      continue;
    if (put <= 0)
      return FALSE;
    data += put;
    length -= (gsize)put;
  }
  return TRUE;
}

static gboolean write_whole(const char *path, const char *data, gsize length)
{
  int descriptor = cw_output_open(path);

  if (descriptor < 0)
    return FALSE;
  if (write_all(descriptor, data, length))
    return cw_output_finish(descriptor, path);
  int fault = errno;
  cw_output_abandon(descriptor, path);
  errno = fault;
  return FALSE;
}

gboolean cw_job_write_file(const char *path, const char *data, gssize length, CwReplace replace,
                           GError **error)
{
  gsize bytes = length < 0 ? strlen(data) : (gsize)length;
  g_autofree char *real = cw_output_place(path);

  if (!cw_output_allowed(path, data, bytes, replace, error))
    return FALSE;
  if (write_whole(real, data, bytes))
    return TRUE;
  int fault = errno;
  g_set_error(error, G_FILE_ERROR, g_file_error_from_errno(fault), "%s: cannot be written: %s", path,
              g_strerror(fault));
  return FALSE;
}
