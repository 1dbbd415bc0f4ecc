/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/project/project_private.h"

#include <string.h>

CwSamples *cw_samples_new(double rate_hz, guint n_channels, gsize n_frames, const float *values)
{
  g_return_val_if_fail(rate_hz > 0 && n_channels > 0 && n_frames <= CW_PROJECT_MOST_SAMPLES / n_channels,
                       NULL);
  CwSamples *samples = g_new0(CwSamples, 1);
  gsize n = n_channels * n_frames;
  samples->rate_hz = rate_hz;
  samples->n_channels = n_channels;
  samples->n_frames = n_frames;
  samples->values = g_new0(float, MAX(n, 1));
  if (values && n)
    memcpy(samples->values, values, n * sizeof(float));
  return samples;
}

void cw_samples_free(CwSamples *samples)
{
  if (!samples)
    return;
  g_free(samples->values);
  g_free(samples);
}

void cw_project_put_samples(CwProject *project, const char *name, const CwSamples *samples)
{
  g_return_if_fail(name && *name && samples);
  g_hash_table_replace(
      project->pending, g_strdup(name),
      cw_samples_new(samples->rate_hz, samples->n_channels, samples->n_frames, samples->values));
  g_object_notify(G_OBJECT(project), "saved");
}

/* The file's order of bytes is lowest first; swaps in place where the machine's is not. */
static void swap_for_file(guint32 *words, gsize n)
{
  for (gsize i = 0; G_BYTE_ORDER == G_BIG_ENDIAN && i < n; i++)
    words[i] = GUINT32_SWAP_LE_BE(words[i]);
}

/* A check over the samples, and over what they are called and how they are to be read. */
static guint32 check_of(const char *name, double rate_hz, gint64 n_channels, gint64 n_frames,
                        const void *bytes, gsize length)
{
  char rate[G_ASCII_DTOSTR_BUF_SIZE];
  g_autofree char *form =
      g_strdup_printf("%s %" G_GINT64_FORMAT " %" G_GINT64_FORMAT " %s",
                      g_ascii_dtostr(rate, sizeof rate, rate_hz), n_channels, n_frames, name);
  return cw_crc32(cw_crc32(0, form, strlen(form)), bytes, length);
}

static gboolean write_samples(CwProject *project, const char *name, const CwSamples *samples, GError **error)
{
  g_autoptr(sqlite3_stmt) statement = cw_sql_prepare(
      project->file->database, project->file->path,
      "REPLACE INTO samples (name, rate_hz, channels, frames, crc32, data) VALUES (?, ?, ?, ?, ?, ?)", error);
  gsize n = samples->n_channels * samples->n_frames, length = n * sizeof(float);
  g_autofree guint32 *words = g_memdup2(samples->values, MAX(length, 1));
  if (!statement)
    return FALSE;
  swap_for_file(words, n);
  sqlite3_bind_text(statement, 1, name, -1, SQLITE_STATIC);
  sqlite3_bind_double(statement, 2, samples->rate_hz);
  sqlite3_bind_int64(statement, 3, samples->n_channels);
  sqlite3_bind_int64(statement, 4, (gint64)samples->n_frames);
  sqlite3_bind_int64(
      statement, 5,
      check_of(name, samples->rate_hz, samples->n_channels, (gint64)samples->n_frames, words, length));
  sqlite3_bind_blob64(statement, 6, words, length, SQLITE_STATIC);
  return cw_sql_finish(statement, project->file->path, error);
}

/* Writes what was put since the last commit; within its transaction. */
gboolean cw_project_write_pending(CwProject *project, GError **error)
{
  GHashTableIter at;
  gpointer name, samples;
  g_hash_table_iter_init(&at, project->pending);
  while (g_hash_table_iter_next(&at, &name, &samples))
    if (!write_samples(project, name, samples, error))
      return FALSE;
  return TRUE;
}

/* The samples of a row, if they are as they were written. What was brought from version 1 has a check of the
 * samples alone. */
static CwSamples *read_row(sqlite3_stmt *statement, const char *path, const char *name, GError **error)
{
  double rate_hz = sqlite3_column_double(statement, 0);
  gint64 n_channels = sqlite3_column_int64(statement, 1), n_frames = sqlite3_column_int64(statement, 2);
  const void *bytes = sqlite3_column_blob(statement, 4);
  gint64 length = sqlite3_column_bytes(statement, 4), check = sqlite3_column_int64(statement, 3);
  gboolean good = rate_hz > 0 && n_channels > 0 && n_channels <= 64 && n_frames >= 0 &&
                  n_frames <= CW_PROJECT_MOST_SAMPLES / n_channels &&
                  length == n_channels * n_frames * (gint64)sizeof(float) &&
                  (check_of(name, rate_hz, n_channels, n_frames, bytes, (gsize)length) == check ||
                   cw_crc32(0, bytes, (gsize)length) == check);
  if (!good) {
    g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_DAMAGED,
                "%s: the file is damaged (the samples \"%s\" are not as they were written)", path, name);
    return NULL;
  }
  CwSamples *samples = cw_samples_new(rate_hz, (guint)n_channels, (gsize)n_frames, bytes);
  swap_for_file((guint32 *)(gpointer)samples->values, (gsize)(n_channels * n_frames));
  return samples;
}

CwSamples *cw_project_get_samples(CwProject *project, const char *name, GError **error)
{
  const CwSamples *pending = g_hash_table_lookup(project->pending, name);
  const char *path = project->file->path;
  if (pending)
    return cw_samples_new(pending->rate_hz, pending->n_channels, pending->n_frames, pending->values);
  g_autoptr(sqlite3_stmt) statement =
      cw_sql_prepare(project->file->database, path,
                     "SELECT rate_hz, channels, frames, crc32, data FROM samples WHERE name = ?", error);
  if (!statement)
    return NULL;
  sqlite3_bind_text(statement, 1, name, -1, SQLITE_STATIC);
  switch (sqlite3_step(statement)) {
  case SQLITE_ROW:
    return read_row(statement, path, name, error);
  case SQLITE_DONE:
    g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_MISSING, "%s: holds no samples \"%s\"", path, name);
    return NULL;
  default:
    cw_sql_fail(project->file->database, path, error);
    return NULL;
  }
}

gboolean cw_project_has_samples(CwProject *project, const char *name)
{
  g_autoptr(sqlite3_stmt) statement = cw_sql_prepare(project->file->database, project->file->path,
                                                     "SELECT 1 FROM samples WHERE name = ?", NULL);
  if (g_hash_table_contains(project->pending, name))
    return TRUE;
  if (!statement)
    return FALSE;
  sqlite3_bind_text(statement, 1, name, -1, SQLITE_STATIC);
  return sqlite3_step(statement) == SQLITE_ROW;
}
