/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "handover/compare.h"

#include "vehicle/json/document.h"
#include "vehicle/record/value.h"
#include <glib/gi18n-lib.h>
#include <math.h>

static void change_free(gpointer data)
{
  CwChange *change = data;
  g_free(change->path);
  g_free(change->what);
  g_free(change->before);
  g_free(change->after);
  g_free(change->said_before);
  g_free(change->said_after);
  g_free(change);
}

/* The walk's place, and where the changes go. */
typedef struct {
  GPtrArray *changes;
  const char *path, *what;
} Walk;

static void compare_fields(const Walk *walk, CwRecord *before, CwRecord *after, const CwFieldId *only);

/* A field's value for people: words of a choice, a number with its unit; tables by their size. */
static char *say_value(CwRecord *record, const CwField *field)
{
  CwFieldId id = cw_record_field_id(record, field);
  int choice = field->type == CW_FIELD_CHOICE ? cw_record_get_choice_at(record, id) : -1;
  const CwNumbers *numbers;
  switch (field->type) {
  case CW_FIELD_TEXT:
    return g_strdup(cw_record_get_text_at(record, id));
  case CW_FIELD_NUMBER: {
    double value = cw_record_get_number_at(record, id);
    return isnan(value)
               ? g_strdup("")
               : g_strdup_printf("%.6g%s%s", value, field->unit ? " " : "", field->unit ? field->unit : "");
  }
  case CW_FIELD_CHOICE:
    return g_strdup(choice < 0 ? "" : _(field->choices[choice].label));
  case CW_FIELD_BOOLEAN:
    return g_strdup(cw_record_get_boolean_at(record, id) ? _("yes") : _("no"));
  case CW_FIELD_ROWS:
  case CW_FIELD_CURVE:
    numbers = cw_record_get_numbers_at(record, id);
    return g_strdup_printf(ngettext("%u point", "%u points", numbers ? numbers->n_rows : 0),
                           numbers ? numbers->n_rows : 0);
  default: {
    char *json = cw_record_value_to_json(record, field);
    if (g_str_equal(json, "null"))
      *json = '\0';
    return json;
  }
  }
}

/* A record for people, as far as it is short: its choices, numbers and texts that are not at their initial
 * value. */
static char *say_record(CwRecord *record)
{
  g_autoptr(CwRecord) plain = cw_record_new(G_OBJECT_TYPE(record));
  GString *text = g_string_new(NULL);
  guint n_fields;
  const CwField *fields = cw_record_get_fields(record, &n_fields);
  for (guint i = 0; i < n_fields; i++) {
    if (fields[i].type > CW_FIELD_CHOICE || (fields[i].flags & CW_FIELD_HIDDEN))
      continue;
    g_autofree char *json = cw_record_value_to_json(record, &fields[i]),
                    *initial = cw_record_value_to_json(plain, &fields[i]);
    g_autofree char *said = say_value(record, &fields[i]);
    if (!*said || (fields[i].type != CW_FIELD_CHOICE && g_str_equal(json, initial)))
      continue;
    g_string_append(text, text->len ? ", " : "");
    if (fields[i].type != CW_FIELD_CHOICE) /* a choice's word speaks for itself */
      g_string_append_printf(text, "%s ", _(fields[i].label));
    g_string_append(text, said);
  }
  return g_string_free(text, FALSE);
}

/* before or after NULL: that record is not there. */
static void add_record_change(const Walk *walk, CwRecord *before, CwRecord *after)
{
  CwChange *change = g_new0(CwChange, 1);
  change->kind = !before ? CW_CHANGE_ADDED : !after ? CW_CHANGE_GONE : CW_CHANGE_VALUE;
  change->path = g_strdup(walk->path);
  change->what = g_strdup(walk->what);
  change->before = before ? cw_record_to_json(before, NULL) : NULL;
  change->after = after ? cw_record_to_json(after, NULL) : NULL;
  change->said_before = before ? say_record(before) : g_strdup("");
  change->said_after = after ? say_record(after) : g_strdup("");
  g_ptr_array_add(walk->changes, change);
}

static void compare_value(const Walk *walk, CwRecord *before, CwRecord *after, const CwField *field)
{
  g_autofree char *one = cw_record_value_to_json(before, field),
                  *other = cw_record_value_to_json(after, field);
  if (g_str_equal(one, other))
    return;
  CwChange *change = g_new0(CwChange, 1);
  change->path = g_strdup(walk->path);
  change->what = g_strdup(walk->what);
  change->before = g_steal_pointer(&one);
  change->after = g_steal_pointer(&other);
  change->said_before = say_value(before, field);
  change->said_after = say_value(after, field);
  g_ptr_array_add(walk->changes, change);
}

/* What an item of a list is called: by its name, else its identity, else its place. */
static char *call_item(CwRecord *item, const CwField *field, guint index)
{
  const CwField *name = cw_record_find_field(item, "name");
  const char *text =
      name && name->type == CW_FIELD_TEXT ? cw_record_get_text_at(item, cw_record_field_id(item, name)) : "";
  if (*text)
    return g_strdup(text);
  if (!cw_record_get_identity(item))
    return g_strdup_printf("%s %u", _(field->label ? field->label : field->key), index + 1);
  g_autofree char *identity = cw_record_say_identity(item);
  const char *label = cw_record_get_identity(item)->label;
  return g_strdup_printf("%s %s", label ? _(label) : "", identity);
}

static CwRecord *find_match(CwList *list, CwRecord *item, guint index)
{
  if (!cw_record_get_identity(item))
    return index < cw_list_get_length(list) ? cw_list_get(list, index) : NULL;
  g_autofree char *wanted = cw_record_say_identity(item);
  for (guint i = 0; i < cw_list_get_length(list); i++) {
    g_autofree char *identity = cw_record_say_identity(cw_list_get(list, i));
    if (g_str_equal(identity, wanted))
      return cw_list_get(list, i);
  }
  return NULL;
}

/* Items are matched by identity and then compared field by field; those of a kind without one by their place,
 * each as a whole. */
static void compare_lists(const Walk *walk, CwList *before, CwList *after, const CwField *field)
{
  for (int gone = 0; gone < 2; gone++) {
    CwList *list = gone ? before : after, *others = gone ? after : before;
    for (guint i = 0; i < cw_list_get_length(list); i++) {
      CwRecord *item = cw_list_get(list, i), *other = find_match(others, item, i);
      g_autofree char *path = g_strdup_printf("%s[%u]", walk->path, i), *called = call_item(item, field, i);
      g_autofree char *what = *walk->what ? g_strdup_printf("%s, %s", walk->what, called) : g_strdup(called);
      Walk inside = {walk->changes, path, what};
      if (!other)
        add_record_change(&inside, gone ? item : NULL, gone ? NULL : item);
      else if (!gone && cw_record_get_identity(item))
        compare_fields(&inside, other, item, NULL);
      else if (!gone && !cw_record_equal(other, item))
        add_record_change(&inside, other, item);
    }
  }
}

static gboolean is_among(const CwFieldId *ids, CwFieldId id)
{
  while (*ids != CW_NO_FIELD && *ids != id)
    ids++;
  return *ids == id;
}

static void compare_fields(const Walk *walk, CwRecord *before, CwRecord *after, const CwFieldId *only)
{
  guint n_fields;
  const CwField *fields = cw_record_get_fields(after, &n_fields);
  for (guint i = 0; i < n_fields; i++) {
    const CwField *field = &fields[i];
    CwFieldId id = cw_record_field_id(before, field);
    if (only && !is_among(only, id))
      continue;
    const char *label = field->label ? _(field->label) : "";
    g_autofree char *path =
        *walk->path ? g_strdup_printf("%s.%s", walk->path, field->key) : g_strdup(field->key);
    g_autofree char *what = !*walk->what ? g_strdup(label)
                            : *label     ? g_strdup_printf("%s: %s", walk->what, label)
                                         : g_strdup(walk->what);
    Walk inside = {walk->changes, path, what};
    if (field->type == CW_FIELD_RECORDS) {
      compare_lists(&(Walk){walk->changes, path, walk->what}, cw_record_get_children_at(before, id),
                    cw_record_get_children_at(after, id), field);
    } else if (field->type == CW_FIELD_RECORD) {
      CwRecord *one = cw_record_get_child_at(before, id), *other = cw_record_get_child_at(after, id);
      if (one && other)
        compare_fields(&inside, one, other, NULL);
      else if (one || other)
        add_record_change(&inside, one, other);
    } else {
      compare_value(&inside, before, after, field);
    }
  }
}

GPtrArray *cw_compare_records(CwRecord *before, CwRecord *after, const CwFieldId *only)
{
  g_return_val_if_fail(G_OBJECT_TYPE(before) == G_OBJECT_TYPE(after), NULL);
  GPtrArray *changes = g_ptr_array_new_with_free_func(change_free);
  compare_fields(&(Walk){changes, "", ""}, before, after, only);
  return changes;
}
