/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/json/document.h"
#include "vehicle/record/record_private.h"
#include "vehicle/record/value.h"

/* Where in the tree the check is; on the stack. */
typedef struct _Place {
  const struct _Place *above;
  const char *key;
  int index; /* -1: the one child of a field */
} Place;

static void append_place(GString *text, const Place *place)
{
  if (!place)
    return;
  append_place(text, place->above);
  g_string_append_printf(text, "%s%s", text->len ? "." : "", place->key);
  if (place->index >= 0)
    g_string_append_printf(text, "[%d]", place->index);
}

static gboolean refuse(const Place *place, const char *key, const char *what, GError **error)
{
  g_autoptr(GString) text = g_string_new(NULL);
  append_place(text, place);
  g_set_error(error, CW_RECORD_ERROR, CW_RECORD_ERROR_REFERENCE, "%s%s%s: %s", text->str,
              text->len ? "." : "", key, what);
  return FALSE;
}

static gboolean check_record(CwRecord *record, const Place *place, GError **error);

/* No two items of a list may have the same identity. */
static gboolean check_identities(CwList *list, const Place *place, const char *list_key, GError **error)
{
  g_autoptr(GHashTable) seen = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  for (guint i = 0; i < cw_list_get_length(list); i++) {
    CwRecord *item = cw_list_get(list, i);
    const CwField *field = cw_record_get_identity(item);
    if (!field)
      return TRUE;
    char *identity = cw_record_say_identity(item);
    gpointer before = NULL;
    if (g_hash_table_lookup_extended(seen, identity, NULL, &before)) {
      g_autofree char *what =
          g_strdup_printf("%s is already used by %s[%u]", identity, list_key, GPOINTER_TO_UINT(before));
      Place at = {place, list_key, (int)i};
      g_free(identity);
      return refuse(&at, field->key, what, error);
    }
    g_hash_table_insert(seen, identity, GUINT_TO_POINTER(i));
  }
  return TRUE;
}

static gboolean check_children(CwList *list, const Place *place, const char *key, GError **error)
{
  if (!check_identities(list, place, key, error))
    return FALSE;
  for (guint i = 0; i < cw_list_get_length(list); i++) {
    Place at = {place, key, (int)i};
    if (!check_record(cw_list_get(list, i), &at, error))
      return FALSE;
  }
  return TRUE;
}

static gboolean check_record(CwRecord *record, const Place *place, GError **error)
{
  guint n_fields;
  const CwField *fields = cw_record_get_fields(record, &n_fields);
  for (guint i = 0; i < n_fields; i++) {
    const CwField *field = &fields[i];
    gboolean required = (field->flags & CW_FIELD_REQUIRED) != 0;
    if (required && field->type == CW_FIELD_TEXT &&
        !*cw_record_get_text_at(record, cw_record_field_id(record, field)))
      return refuse(place, field->key, "must not be empty", error);
    CwRecord *child = field->type == CW_FIELD_RECORD
                          ? cw_record_get_child_at(record, cw_record_field_id(record, field))
                          : NULL;
    Place at = {place, field->key, -1};
    if (child && !check_record(child, &at, error))
      return FALSE;
    if (field->type == CW_FIELD_RECORDS &&
        !check_children(cw_record_get_children_at(record, cw_record_field_id(record, field)), place,
                        field->key, error))
      return FALSE;
  }
  return TRUE;
}

/* Checks what no single field can know: required texts are there, no two of a list are alike, and what the
 * kind itself asks for (of a vehicle: all that is named is there). TRUE, or FALSE with the place. What passes
 * can be written and read again. */
gboolean cw_record_check(CwRecord *record, GError **error)
{
  CwRecordClass *klass = CW_RECORD_GET_CLASS(record);
  return check_record(record, NULL, error) && (!klass->check || klass->check(record, error));
}
