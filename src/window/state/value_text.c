/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/state/value_text.h"

#include "vehicle/record/value.h"

#include "window/state/length.h"

#include <glib/gi18n-lib.h>
#include <locale.h>
#include <math.h>
#include <string.h>

/* To three places behind the sign and, unless it is whole, to five digits: more are of no use to a person. */
static double round_for_people(double value)
{
  double rounded = round(value * 1000) / 1000, magnitude = fabs(rounded);
  if (rounded == floor(rounded) || magnitude < 100)
    return rounded;
  double step = pow(10, floor(log10(magnitude)) - 4);
  return round(rounded / step) * step;
}

/* A number as short as it can be read, with the reader's decimal sign; "" for one that is not known. The
 * record keeps all digits. */
char *cw_number_to_text(double value)
{
  char buffer[G_ASCII_DTOSTR_BUF_SIZE];
  if (!isfinite(value))
    return g_strdup("");
  gboolean small = fabs(value) < 0.1;
  double rounded = small ? value : round_for_people(value);
  g_ascii_formatd(buffer, sizeof buffer, small ? "%.4g" : "%.6g", rounded);
  char *text = strchr(buffer, 'e') ? cw_format_number(rounded) : g_strdup(buffer);
  if (g_str_equal(localeconv()->decimal_point, ","))
    g_strdelimit(text, ".", ',');
  return text;
}

/* The same of a field's value, in the unit that stands beside it. */
char *cw_field_number_to_text(const CwField *field, double value)
{
  return cw_number_to_text(cw_length_is_converted(field) ? value / CW_CM_PER_INCH : value);
}

static void refuse(GError **error, const char *format, const char *text)
{
  g_set_error(error, CW_RECORD_ERROR, CW_RECORD_ERROR_VALUE, format, text);
}

/* The unit that was typed behind a length, which goes from the text; NULL where there was none. */
static const char *take_length_unit(char *text)
{
  static const char *const units[] = {"cm", "in", "\"", "″"};
  for (guint i = 0; i < G_N_ELEMENTS(units); i++)
    if (g_str_has_suffix(text, units[i])) {
      text[strlen(text) - strlen(units[i])] = '\0';
      g_strchomp(text);
      return units[i];
    }
  return NULL;
}

/* Reads one number within the field's limits. FALSE, and the reason in words, if the text is none. An empty
 * text is "not known" where the field allows that. */
gboolean cw_number_from_text(const CwField *field, const char *text, double *value, GError **error)
{
  g_autofree char *plain = g_strstrip(g_strdup(text));
  char *end;
  if (!*plain && (field->flags & CW_FIELD_NULLABLE)) {
    *value = (double)NAN;
    return TRUE;
  }
  gboolean length = g_strcmp0(field->unit, "cm") == 0;
  const char *unit = length ? take_length_unit(plain) : NULL;
  g_strdelimit(plain, ",", '.');
  *value = g_ascii_strtod(plain, &end);
  if (!*plain || *g_strchug(end) || !isfinite(*value)) {
    refuse(error, _("“%s” is not a number"), text);
    return FALSE;
  }
  if (field->type == CW_FIELD_INTEGER && *value != floor(*value)) {
    refuse(error, _("%s is not a whole number"), text);
    return FALSE;
  }
  if (length && (unit ? !g_str_equal(unit, "cm") : cw_length_in_inches()))
    *value *= CW_CM_PER_INCH;
  if (cw_field_check_number(field, *value, error))
    return TRUE;
  if (cw_length_is_converted(field))
    g_prefix_error(error, _("in cm: "));
  return FALSE;
}

static char *join_numbers(const CwNumbers *numbers)
{
  GString *text = g_string_new(NULL);
  for (guint row = 0; numbers && row < numbers->n_rows; row++)
    for (guint column = 0; column < numbers->n_columns; column++) {
      g_autofree char *number = cw_number_to_text(cw_numbers_at(numbers, row, column));
      if (text->len)
        g_string_append_c(text, column || numbers->n_columns == 1 ? ' ' : '\n');
      g_string_append(text, *number ? number : "–");
    }
  return g_string_free(text, FALSE);
}

/* The value as text, the caller's. Of a choice it is the word; children have none. */
char *cw_value_to_text(CwRecord *record, const CwField *field)
{
  CwFieldId id = cw_record_field_id(record, field);
  const char *const *texts;
  switch (field->type) {
  case CW_FIELD_TEXT:
    return g_strdup(cw_record_get_text_at(record, id));
  case CW_FIELD_NUMBER:
    return cw_field_number_to_text(field, cw_record_get_number_at(record, id));
  case CW_FIELD_INTEGER: {
    gint64 value = cw_record_get_integer_at(record, id);
    return value == CW_NO_INTEGER ? g_strdup("") : g_strdup_printf("%" G_GINT64_FORMAT, value);
  }
  case CW_FIELD_TEXTS:
    texts = cw_record_get_texts_at(record, id);
    return texts ? g_strjoinv("; ", (char **)texts) : g_strdup("");
  case CW_FIELD_NUMBERS:
  case CW_FIELD_ROWS:
  case CW_FIELD_CURVE:
    return join_numbers(cw_record_get_numbers_at(record, id));
  default:
    return g_strdup("");
  }
}

static char **split(const char *text, const char *separators)
{
  g_auto(GStrv) parts = g_strsplit_set(text, separators, -1);
  g_autoptr(GStrvBuilder) kept = g_strv_builder_new();
  for (guint i = 0; parts[i]; i++) {
    char *part = g_strstrip(parts[i]);
    gsize length = strlen(part);
    if (length > 1 && part[length - 1] == ',')
      part[length - 1] = '\0';
    if (*part)
      g_strv_builder_add(kept, part);
  }
  return g_strv_builder_end(kept);
}

/* Rows of numbers, `columns` in each. Frequencies in a first column must rise. */
static CwNumbers *read_rows(const CwField *field, const char *text, guint columns, GError **error)
{
  g_auto(GStrv) items = split(text, " \t\n;");
  guint count = g_strv_length(items);
  g_autofree double *values = g_new(double, MAX(count, 1));
  if (count % columns) {
    g_set_error(error, CW_RECORD_ERROR, CW_RECORD_ERROR_VALUE, _("%u numbers are not whole rows of %u"),
                count, columns);
    return NULL;
  }
  for (guint i = 0; i < count; i++) {
    CwField plain = {.key = field->key, .type = CW_FIELD_NUMBER};
    const CwField *limits = columns > 1 && i % columns == 0 ? &plain : field;
    if (!cw_number_from_text(limits, items[i], &values[i], error))
      return NULL;
    if (columns > 1 && i % columns == 0 && (values[i] <= 0 || (i && values[i] <= values[i - columns]))) {
      refuse(error, _("%s does not rise"), items[i]);
      return NULL;
    }
  }
  return cw_numbers_new(count / columns, columns, values);
}

static gboolean set_list(CwRecord *record, const CwField *field, const char *text, GError **error)
{
  guint columns = field->type == CW_FIELD_NUMBERS ? 1 : field->type == CW_FIELD_CURVE ? 2 : field->columns;
  CwNumbers *numbers = read_rows(field, text, columns, error);
  if (!numbers)
    return FALSE;
  if (field->type == CW_FIELD_NUMBERS && field->columns && numbers->n_rows != field->columns) {
    g_set_error(error, CW_RECORD_ERROR, CW_RECORD_ERROR_VALUE, _("%u numbers are expected, not %u"),
                field->columns, numbers->n_rows);
    cw_numbers_unref(numbers);
    return FALSE;
  }
  for (guint i = 1; (field->flags & CW_FIELD_RISES) && i < numbers->n_rows; i++)
    if (numbers->values[i] <= numbers->values[i - 1]) {
      refuse(error, _("%s does not rise"), text);
      cw_numbers_unref(numbers);
      return FALSE;
    }
  cw_record_take_numbers_at(record, cw_record_field_id(record, field), numbers);
  return TRUE;
}

static gboolean set_text(CwRecord *record, const CwField *field, const char *text, GError **error)
{
  g_autofree char *plain = g_strstrip(g_strdup(text));
  if (!*plain && (field->flags & CW_FIELD_REQUIRED)) {
    refuse(error, _("%s must not be empty"), _(field->label));
    return FALSE;
  }
  cw_record_set_text_at(record, cw_record_field_id(record, field), plain);
  return TRUE;
}

/* Sets the value from text. FALSE, with the reason and nothing set, if the text is not such a value. */
gboolean cw_value_from_text(CwRecord *record, const CwField *field, const char *text, GError **error)
{
  CwFieldId id = cw_record_field_id(record, field);
  double number;
  switch (field->type) {
  case CW_FIELD_TEXT:
    return set_text(record, field, text, error);
  case CW_FIELD_NUMBER:
  case CW_FIELD_INTEGER:
    if (!cw_number_from_text(field, text, &number, error))
      return FALSE;
    if (field->type == CW_FIELD_NUMBER)
      cw_record_set_number_at(record, id, number);
    else
      cw_record_set_integer_at(record, id, isfinite(number) ? (gint64)number : CW_NO_INTEGER);
    return TRUE;
  case CW_FIELD_TEXTS: {
    g_auto(GStrv) items = split(text, ";,");
    cw_record_set_texts_at(record, id, (const char *const *)items);
    return TRUE;
  }
  case CW_FIELD_NUMBERS:
  case CW_FIELD_ROWS:
  case CW_FIELD_CURVE:
    return set_list(record, field, text, error);
  default:
    g_return_val_if_reached(FALSE);
  }
}
