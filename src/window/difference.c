/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/difference.h"

#include "window/record_rows.h"
#include "window/value_text.h"
#include "window/words.h"

#include <glib/gi18n-lib.h>

static void compare(GPtrArray *lines, const char *place, CwRecord *before, CwRecord *after);

static char *value_of(CwRecord *record, const CwField *field)
{
  if (field->type == CW_FIELD_CHOICE)
    return g_strdup(cw_say_choice(record, field->key));
  if (field->type == CW_FIELD_BOOLEAN)
    return g_strdup(cw_record_get_boolean(record, field->key) ? _("yes") : _("no"));
  char *text = cw_value_to_text(record, field);
  if (*text)
    return text;
  g_free(text);
  return g_strdup(_("empty"));
}

static gboolean same_numbers(CwRecord *before, CwRecord *after, const CwField *field)
{
  const CwNumbers *one = cw_record_get_numbers(before, field->key), *other = cw_record_get_numbers(after, field->key);
  return one == other || (one && other && cw_numbers_equal(one, other));
}

/* Curves and tables are long: it is said that they changed, not how. */
static void compare_value(GPtrArray *lines, const char *place, CwRecord *before, CwRecord *after, const CwField *field)
{
  gboolean table = field->type == CW_FIELD_CURVE || field->type == CW_FIELD_ROWS || field->type == CW_FIELD_NAMED;
  if (field->type == CW_FIELD_ANYTHING)
    return;
  if (table) {
    if (!same_numbers(before, after, field))
      g_ptr_array_add(lines, g_strdup_printf(_("%s%s changed"), place, _(field->label)));
    return;
  }
  g_autofree char *one = value_of(before, field), *other = value_of(after, field);
  if (!g_str_equal(one, other))
    g_ptr_array_add(lines, g_strdup_printf("%s%s: %s → %s%s%s", place, _(field->label), one, other, field->unit ? " " : "",
                                           field->unit ? field->unit : ""));
}

static CwRecord *find_like(CwList *list, CwRecord *record, guint position)
{
  const CwField *identity = cw_record_get_identity(record);
  if (!identity)
    return position < cw_list_get_length(list) ? cw_list_get(list, position) : NULL;
  if (identity->type == CW_FIELD_INTEGER)
    return cw_list_find_integer(list, identity->key, cw_record_get_integer(record, identity->key));
  if (identity->type == CW_FIELD_TEXT)
    return cw_list_find_text(list, identity->key, cw_record_get_text(record, identity->key));
  for (guint i = 0; i < cw_list_get_length(list); i++)
    if (cw_record_get_choice(cw_list_get(list, i), identity->key) == cw_record_get_choice(record, identity->key))
      return cw_list_get(list, i);
  return NULL;
}

static char *place_of(const char *outer, const CwField *field, CwRecord *record, guint position)
{
  g_autofree char *title = cw_record_get_identity(record) ? cw_record_say_title(record) : g_strdup_printf("%u", position + 1);
  return g_strdup_printf("%s%s, %s: ", outer, _(field->label), title);
}

static void compare_lists(GPtrArray *lines, const char *outer, CwList *before, CwList *after, const CwField *field)
{
  for (guint i = 0; i < cw_list_get_length(after); i++) {
    CwRecord *record = cw_list_get(after, i), *old = find_like(before, record, i);
    g_autofree char *place = place_of(outer, field, record, i);
    if (old)
      compare(lines, place, old, record);
    else
      g_ptr_array_add(lines, g_strdup_printf(_("%snew"), place));
  }
  for (guint i = 0; i < cw_list_get_length(before); i++)
    if (!find_like(after, cw_list_get(before, i), i)) {
      g_autofree char *place = place_of(outer, field, cw_list_get(before, i), i);
      g_ptr_array_add(lines, g_strdup_printf(_("%sgone"), place));
    }
}

static void compare_child(GPtrArray *lines, const char *outer, CwRecord *before, CwRecord *after, const CwField *field)
{
  g_autofree char *place = g_strdup_printf("%s%s: ", outer, field->label ? _(field->label) : "");
  if (before && after)
    compare(lines, field->label ? place : outer, before, after);
  else if (before || after)
    g_ptr_array_add(lines, g_strdup_printf(after ? _("%snew") : _("%sgone"), place));
}

static void compare(GPtrArray *lines, const char *place, CwRecord *before, CwRecord *after)
{
  guint n_fields;
  const CwField *fields = cw_record_get_fields(after, &n_fields);
  for (guint i = 0; i < n_fields; i++) {
    if (fields[i].type == CW_FIELD_RECORDS)
      compare_lists(lines, place, cw_record_get_children(before, fields[i].key), cw_record_get_children(after, fields[i].key), &fields[i]);
    else if (fields[i].type == CW_FIELD_RECORD)
      compare_child(lines, place, cw_record_get_child(before, fields[i].key), cw_record_get_child(after, fields[i].key), &fields[i]);
    else if (!(fields[i].flags & CW_FIELD_HIDDEN))
      compare_value(lines, place, before, after, &fields[i]);
  }
}

/* The parts of a vehicle that hold settings and what is fitted; the parts that follow from them would only repeat it. */
GPtrArray *cw_difference_lines(CwRecord *before, CwRecord *after)
{
  static const char *const parts[] = {"speakers", "microphone", "supply", "amplifiers", "processor", "tune", "takes", "map_proofs"};
  GPtrArray *lines = g_ptr_array_new_with_free_func(g_free);
  guint n_fields;
  const CwField *fields = cw_record_get_fields(after, &n_fields);
  for (guint i = 0; i < n_fields; i++) {
    CwField field = fields[i];
    gboolean part = FALSE;
    for (guint k = 0; k < G_N_ELEMENTS(parts); k++)
      part |= g_str_equal(parts[k], field.key);
    if (!field.label)
      field.label = g_str_equal(field.key, "tune") ? N_("Tune") : g_str_equal(field.key, "takes") ? N_("Takes") : N_("Channel map");
    if (part && field.type == CW_FIELD_RECORDS)
      compare_lists(lines, "", cw_record_get_children(before, field.key), cw_record_get_children(after, field.key), &field);
    else if (part && field.type == CW_FIELD_RECORD)
      compare_child(lines, "", cw_record_get_child(before, field.key), cw_record_get_child(after, field.key), &field);
    else if (field.type < CW_FIELD_RECORD && !(field.flags & CW_FIELD_HIDDEN))
      compare_value(lines, "", before, after, &field);
  }
  return lines;
}
