/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/json/document.h"
#include "vehicle/json/json_write.h"
#include "vehicle/record/record_private.h"
#include "vehicle/record/value.h"

#include <string.h>

static void write_numbers(GString *json, const CwField *field, const CwNumbers *numbers)
{
  gboolean named = field->type == CW_FIELD_NAMED;
  g_string_append_c(json, named ? '{' : '[');
  for (guint row = 0; row < numbers->n_rows; row++) {
    g_string_append(json, row ? "," : "");
    if (named) {
      cw_append_json_text(json, numbers->names[row]);
      g_string_append_c(json, ':');
    }
    g_string_append(json, numbers->n_columns > 1 ? "[" : "");
    for (guint column = 0; column < numbers->n_columns; column++) {
      g_string_append(json, column ? "," : "");
      cw_append_json_number(json, cw_numbers_at(numbers, row, column));
    }
    g_string_append(json, numbers->n_columns > 1 ? "]" : "");
  }
  g_string_append_c(json, named ? '}' : ']');
}

static void write_texts(GString *json, char **texts)
{
  g_string_append_c(json, '[');
  for (guint i = 0; texts[i]; i++) {
    g_string_append(json, i ? "," : "");
    cw_append_json_text(json, texts[i]);
  }
  g_string_append_c(json, ']');
}

void cw_record_append_item_json(GString *json, CwRecord *item)
{
  CwRecordPrivate *inside = cw_record_inside(item);
  const char *known = inside->frozen ? g_atomic_pointer_get(&inside->json) : NULL;
  if (known) {
    g_string_append(json, known);
    return;
  }
  gsize start = json->len;
  cw_record_append_json(json, item, NULL);
  if (!inside->frozen)
    return;
  char *text = g_strdup(json->str + start);
  if (!g_atomic_pointer_compare_and_exchange(&inside->json, NULL, text))
    g_free(text);
}

static void write_children(GString *json, CwList *list)
{
  g_string_append_c(json, '[');
  for (guint i = 0; i < cw_list_get_length(list); i++) {
    g_string_append(json, i ? "," : "");
    cw_record_append_item_json(json, cw_list_get(list, i));
  }
  g_string_append_c(json, ']');
}

static void write_value(GString *json, const CwField *field, const CwCell *cell)
{
  switch (field->type) {
  case CW_FIELD_TEXT:
    cw_append_json_text(json, cell->text);
    break;
  case CW_FIELD_NUMBER:
    cw_append_json_number(json, cell->number);
    break;
  case CW_FIELD_INTEGER:
    if (cell->integer == CW_NO_INTEGER)
      g_string_append(json, "null");
    else
      g_string_append_printf(json, "%" G_GINT64_FORMAT, cell->integer);
    break;
  case CW_FIELD_BOOLEAN:
    g_string_append(json, cell->truth ? "true" : "false");
    break;
  case CW_FIELD_CHOICE:
    if (cell->choice < 0)
      g_string_append(json, "null");
    else
      cw_append_json_text(json, field->choices[cell->choice].word);
    break;
  case CW_FIELD_TEXTS:
    write_texts(json, cell->texts);
    break;
  case CW_FIELD_RECORD:
    if (cell->record)
      cw_record_append_json(json, cell->record, NULL);
    else
      g_string_append(json, "null");
    break;
  case CW_FIELD_RECORDS:
    write_children(json, cell->records);
    break;
  default:
    write_numbers(json, field, cell->numbers);
    break;
  }
}

/* One value as JSON, by its field of the record's table; the caller frees it. */
char *cw_record_value_to_json(CwRecord *record, const CwField *field)
{
  GString *json = g_string_new(NULL);
  write_value(json, field, &cw_record_inside(record)->cells[field - CW_RECORD_GET_CLASS(record)->fields]);
  return g_string_free(json, FALSE);
}

void cw_record_append_json(GString *json, CwRecord *record, const char *without_key)
{
  CwRecordClass *klass = CW_RECORD_GET_CLASS(record);
  CwRecordPrivate *inside = cw_record_inside(record);
  gboolean first = TRUE;
  g_string_append_c(json, '{');
  for (guint i = 0; i < klass->n_fields; i++) {
    const CwField *field = &klass->fields[i];
    if (g_strcmp0(field->key, without_key) == 0)
      continue;
    if ((field->flags & CW_FIELD_SPARSE) && !cw_record_is_known_at(record, cw_record_field_id(record, field)))
      continue;
    g_string_append_printf(json, "%s\"%s\":", first ? "" : ",", field->key);
    write_value(json, field, &inside->cells[i]);
    first = FALSE;
  }
  if (inside->unknown)
    g_string_append_printf(json, "%s%s", first ? "" : ",", inside->unknown);
  g_string_append_c(json, '}');
}

/* The record as JSON on one line, its length in *length if that is not NULL; the caller frees it. Members
 * come in the order of the table, unknown ones behind; numbers have the fewest digits that read back as the
 * same double. */
char *cw_record_to_json(CwRecord *record, gsize *length)
{
  g_autoptr(CwRecord) snapshot = cw_record_snapshot(record);
  GString *json = g_string_sized_new(4096);
  cw_record_append_json(json, snapshot, NULL);
  if (length)
    *length = json->len;
  return g_string_free(json, FALSE);
}

/* The same on several lines. */
char *cw_record_to_indented_json(CwRecord *record)
{
  g_autofree char *json = cw_record_to_json(record, NULL);
  return cw_json_indent(json);
}

/* The position behind a text in quotes. */
static const char *behind_text(const char *at)
{
  for (at++; *at != '"'; at++)
    if (*at == '\\')
      at++;
  return at + 1;
}

/* TRUE if the list that begins here holds no object. */
static gboolean is_plain_list(const char *at)
{
  guint depth = 0;
  do {
    if (*at == '{')
      return FALSE;
    depth += *at == '[';
    depth -= *at == ']';
    at = *at == '"' ? behind_text(at) : at + 1;
  } while (depth);
  return TRUE;
}

static void new_line(GString *text, guint depth)
{
  g_string_append_printf(text, "\n%*s", (int)depth * 2, "");
}

char *cw_json_indent(const char *json)
{
  GString *text = g_string_sized_new(strlen(json) * 2);
  guint depth = 0, plain = 0; /* plain: how deep within a list that stays on its line */
  for (const char *at = json; *at;) {
    char c = *at;
    if (c == '"') {
      const char *behind = behind_text(at);
      g_string_append_len(text, at, behind - at);
      at = behind;
      continue;
    }
    at++;
    if (plain || (c == '[' && is_plain_list(at - 1))) {
      plain += c == '[';
      plain -= c == ']';
      g_string_append(text, c == ',' ? ", " : (char[]){c, 0});
    } else if ((c == '{' || c == '[') && *at == (c == '{' ? '}' : ']')) {
      g_string_append_printf(text, "%c%c", c, *at++);
    } else if (c == '{' || c == '[') {
      g_string_append_c(text, c);
      new_line(text, ++depth);
    } else if (c == '}' || c == ']') {
      new_line(text, --depth);
      g_string_append_c(text, c);
    } else if (c == ',') {
      g_string_append_c(text, c);
      new_line(text, depth);
    } else {
      g_string_append(text, c == ':' ? ": " : (char[]){c, 0});
    }
  }
  return g_string_free(text, FALSE);
}
