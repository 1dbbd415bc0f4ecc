/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/sheet/calibration.h"
#include "job/input_file.h"
#include <gio/gio.h>
#include <math.h>
#include <string.h>

#define FILE_MOST (4 << 20)
#define COLUMNS_MOST 3
#define MOST_DB 60.0
#define LOWEST_HZ 0.1
#define HIGHEST_HZ 400000.0

typedef struct {
  const char *source;
  guint line, columns; /* columns: of the lines so far, 0 before the first */
  GArray *values;      /* hz, dB, ... */
  double before_hz;
} Reader;

static gboolean begins_number(const char *line)
{
  if (*line == '+' || *line == '-')
    line++;
  return g_ascii_isdigit(*line) || ((*line == '.' || *line == ',') && g_ascii_isdigit(line[1]));
}

/* Whether commas stand within numbers: they do where something else parts the columns and no comma stands at
 * a word's edge. */
static gboolean has_decimal_commas(char **words)
{
  guint count = 0;

  for (guint i = 0; words[i]; i++) {
    gsize length = strlen(words[i]);
    char *comma = strchr(words[i], ',');
    if (length == 0)
      continue;
    count++;
    if (comma && (comma == words[i] + length - 1 || (comma == words[i] && !g_ascii_isdigit(comma[1])) ||
                  strchr(comma + 1, ',') || strchr(words[i], '.')))
      return FALSE;
  }
  return count >= 2;
}

/* Before the first line of numbers anything may stand; behind it remarks, which begin with a mark of whatever
 * kind. A line that begins with a letter there is no remark: numbers were expected, and what stands in their
 * place is told. */
static gboolean is_skipped(const Reader *reader, const char *line)
{
  return *line == '\0' || (!begins_number(line) && (!reader->columns || !g_ascii_isalnum(*line)));
}

static gboolean refuse_line(const Reader *reader, GError **error, const char *what)
{
  return cw_job_refuse(error, CW_JOB_ERROR_FILE, "%s: line %u: %s", reader->source, reader->line, what);
}

static gboolean read_number(const Reader *reader, const char *word, double *value, GError **error)
{
  char *end = NULL;

  *value = g_ascii_strtod(word, &end);
  if (begins_number(word) && *end == '\0' && isfinite(*value) && !strpbrk(word, "xXpP"))
    return TRUE;
  g_autofree char *start = g_strndup(word, 24), *shown = g_utf8_make_valid(start, -1);
  return cw_job_refuse(error, CW_JOB_ERROR_FILE, "%s: line %u: \"%s\" is not a number", reader->source,
                       reader->line, shown);
}

static gboolean check_values(Reader *reader, const double *value, guint count, GError **error)
{
  if (count < 2 || count > COLUMNS_MOST)
    return refuse_line(reader, error, "two or three columns were expected: Hz, dB and perhaps degrees");
  if (reader->columns && reader->columns != count)
    return refuse_line(reader, error, "as many columns were expected as in the lines before");
  if (!(value[0] >= LOWEST_HZ && value[0] <= HIGHEST_HZ))
    return refuse_line(reader, error, "a frequency from 0.1 to 400000 Hz was expected in the first column");
  if (!(value[0] > reader->before_hz))
    return refuse_line(reader, error, "a higher frequency than in the line before was expected");
  if (!(fabs(value[1]) <= MOST_DB))
    return refuse_line(reader, error, "a level from -60 to 60 dB was expected in the second column");
  if (reader->values->len / 2 >= CW_CALIBRATION_LINES_MOST)
    return refuse_line(reader, error, "more lines than a calibration has");
  return TRUE;
}

static gboolean read_line(Reader *reader, char *line, GError **error)
{
  g_auto(GStrv) words = g_strsplit_set(line, " \t;", -1);
  gboolean decimal_commas = has_decimal_commas(words);
  double value[COLUMNS_MOST];
  guint count = 0;

  for (char *c = line; *c; c++)
    *c = *c != ',' ? *c : decimal_commas ? '.' : ' ';
  g_strfreev(words);
  words = g_strsplit_set(line, " \t;", -1);
  for (guint i = 0; words[i]; i++) {
    if (!*words[i])
      continue;
    if (count == COLUMNS_MOST)
      return check_values(reader, value, count + 1, error);
    if (!read_number(reader, words[i], &value[count++], error))
      return FALSE;
  }
  if (!check_values(reader, value, count, error))
    return FALSE;
  reader->columns = count;
  reader->before_hz = value[0];
  g_array_append_vals(reader->values, value, 2);
  return TRUE;
}

static gboolean read_text(Reader *reader, const char *text, gsize length, GError **error)
{
  const char *at = text, *end = text + length;

  if (length >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0)
    at += 3;
  while (at < end) {
    const char *stop = at;
    while (stop < end && *stop != '\n' && *stop != '\r')
      stop++;
    reader->line++;
    if (memchr(at, '\0', (gsize)(stop - at)))
      return refuse_line(reader, error, "text was expected");
    g_autofree char *copy = g_strndup(at, (gsize)(stop - at)), *line = g_strdup(g_strstrip(copy));
    at = stop + 1 < end && stop[0] == '\r' && stop[1] == '\n' ? stop + 2 : stop + 1;
    if (is_skipped(reader, line))
      continue;
    if (!read_line(reader, line, error))
      return FALSE;
  }
  return TRUE;
}

CwNumbers *cw_calibration_parse(const char *text, gsize length, const char *source, GError **error)
{
  g_autoptr(GArray) values = g_array_new(FALSE, FALSE, sizeof(double));
  Reader reader = {.source = source, .values = values};

  if (!read_text(&reader, text, length, error))
    return NULL;
  if (values->len < 4) {
    cw_job_refuse(error, CW_JOB_ERROR_FILE, "%s: at least two lines of Hz and dB were expected", source);
    return NULL;
  }
  return cw_numbers_new(values->len / 2, 2, (const double *)(gpointer)values->data);
}

CwNumbers *cw_calibration_read(const char *path, GError **error)
{
  gsize length;
  g_autofree char *text = cw_job_read_file(path, FILE_MOST, &length, error);

  return text ? cw_calibration_parse(text, length, path, error) : NULL;
}
