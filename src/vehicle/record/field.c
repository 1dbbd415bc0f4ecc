/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/record/field.h"

#include <math.h>
#include <string.h>

/* clang-format off */
G_DEFINE_QUARK(cw-record-error-quark, cw_record_error)
/* clang-format on */

gboolean cw_field_has_limits(const CwField *field)
{
  return field->least < field->most;
}

void cw_append_number(GString *text, double value)
{
  g_return_if_fail(isfinite(value));
  if (value == 0) {
    g_string_append(text, signbit(value) ? "-0.0" : "0");
    return;
  }
  if (fabs(value) < 1e15 && value == floor(value)) {
    g_string_append_printf(text, "%" G_GINT64_FORMAT, (gint64)value);
    return;
  }
  char digits[G_ASCII_DTOSTR_BUF_SIZE];
  static const char *const formats[] = {"%.15g", "%.16g", "%.17g"};
  for (guint i = 0; i < G_N_ELEMENTS(formats); i++) {
    g_ascii_formatd(digits, sizeof digits, formats[i], value);
    if (g_ascii_strtod(digits, NULL) == value)
      break;
  }
  g_string_append(text, digits);
}

char *cw_format_number(double value)
{
  if (isnan(value))
    return g_strdup("nothing");
  if (isinf(value))
    return g_strdup("a number without end");
  GString *text = g_string_new(NULL);
  cw_append_number(text, value);
  return g_string_free(text, FALSE);
}

static gboolean refuse_number(double value, const char *what, double limit, GError **error)
{
  g_autofree char *said = cw_format_number(value),
                  *limit_said = isnan(limit) ? g_strdup("") : cw_format_number(limit);
  g_set_error(error, CW_RECORD_ERROR, CW_RECORD_ERROR_VALUE, "%s is %s%s", said, what, limit_said);
  return FALSE;
}

gboolean cw_field_check_number(const CwField *field, double value, GError **error)
{
  gboolean whole = field->type == CW_FIELD_INTEGER || (field->flags & CW_FIELD_WHOLE);
  if (isnan(value) && (field->flags & CW_FIELD_NULLABLE))
    return TRUE;
  if (!isfinite(value))
    return refuse_number(value, "not a number", (double)NAN, error);
  if (whole && value != floor(value))
    return refuse_number(value, "not a whole number", (double)NAN, error);
  if (cw_field_has_limits(field) && value < field->least)
    return refuse_number(value, "below ", field->least, error);
  if (cw_field_has_limits(field) && value > field->most)
    return refuse_number(value, "above ", field->most, error);
  return TRUE;
}

double cw_field_bring_into_limits(const CwField *field, double value)
{
  if (field->type == CW_FIELD_INTEGER)
    value = rint(value);
  if (!cw_field_has_limits(field) || isnan(value))
    return value;
  return CLAMP(value, field->least, field->most);
}

int cw_field_find_choice(const CwField *field, const char *word)
{
  g_return_val_if_fail(field->choices != NULL, -1);
  for (int i = 0; word && field->choices[i].word; i++)
    if (strcmp(field->choices[i].word, word) == 0)
      return i;
  return -1;
}

char *cw_field_list_choices(const CwField *field)
{
  GString *text = g_string_new(NULL);
  for (int i = 0; field->choices[i].word; i++)
    g_string_append_printf(text, "%s%s", i ? ", " : "", field->choices[i].word);
  return g_string_free(text, FALSE);
}

guint cw_field_columns(const CwField *field)
{
  switch (field->type) {
  case CW_FIELD_NUMBERS:
  case CW_FIELD_NAMED:
    return 1;
  case CW_FIELD_CURVE:
    return 2;
  case CW_FIELD_ROWS:
    return field->columns;
  default:
    return 0;
  }
}
