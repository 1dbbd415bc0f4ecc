/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/record/field.h"
#include "vehicle/record/list.h"
#include "vehicle/record/numbers.h"
#include <gio/gio.h>

G_BEGIN_DECLS

/* A record is one thing of the vehicle (a speaker, a take, a section). Its kind is a table of fields; from
 * the table come its GObject properties ("lowest-hz" from "lowest_hz"), its JSON, undo and comparison, and
 * the functions that get and set its values (vehicle/record/value.h). A number outside the field's limits is
 * brought into them, so that a record can always be written and read again.
 *
 * A live record belongs to one thread. A snapshot never changes and may be read from any thread.
 *
 * Signal "changed": something in the record or below it changed. */
#define CW_TYPE_RECORD (cw_record_get_type())
G_DECLARE_DERIVABLE_TYPE(CwRecord, cw_record, CW, RECORD, GObject)

struct _CwRecordClass {
  GObjectClass parent_class;
  const CwField *fields;
  guint n_fields;
  CwFieldId first_field;    /* the identifier of the first, those after it follow */
  GHashTable *index_by_key; /* key -> index + 1 */
  GParamSpec **properties;  /* n_fields */
  gboolean (*check)(CwRecord *record, GError **error); /* what the kind asks for beyond its fields, or NULL */
};

/* Makes a kind of its table; called once, from the class's initialisation. The table must outlive the class.
 */
void cw_record_class_install(CwRecordClass *klass, const CwField *fields, guint n_fields,
                             CwFieldId first_field);

/* Declares a kind in a header. */
#define CW_DECLARE_KIND(Type, type, KIND) G_DECLARE_FINAL_TYPE(Type, type, CW, KIND, CwRecord)

/* Defines a kind from the table `fields`; the second form has a check of its own. KIND is the capitals that
 * the identifiers of its fields are made with. */
#define CW_DEFINE_KIND(Type, type, KIND, fields) CW_DEFINE_CHECKED_KIND(Type, type, KIND, fields, NULL)
#define CW_DEFINE_CHECKED_KIND(Type, type, KIND, fields, checker)                                            \
  struct _##Type {                                                                                           \
    CwRecord parent_instance;                                                                                \
  };                                                                                                         \
  _Static_assert(G_N_ELEMENTS(fields) == CW_##KIND##_N_FIELDS, "the header was made from this table");       \
  G_DEFINE_FINAL_TYPE(Type, type, CW_TYPE_RECORD)                                                            \
  static void type##_class_init(Type##Class *klass)                                                          \
  {                                                                                                          \
    cw_record_class_install(CW_RECORD_CLASS(klass), fields, G_N_ELEMENTS(fields), CW_##KIND##_FIRST_FIELD);  \
    CW_RECORD_CLASS(klass)->check = checker;                                                                 \
  }                                                                                                          \
  static void type##_init(Type *self)                                                                        \
  {                                                                                                          \
  }

/* Says that fields of several kinds are to be had by functions of one prefix, whichever of the kinds a record
 * is of: CW_COMMON_FIELDS(cw_placed, (CwSpeaker, CwHead), (x_cm, y_cm)). Read where the functions are made.
 */
#define CW_COMMON_FIELDS(prefix, kinds, keys)

/* The table */
CwRecord *cw_record_new(GType kind);
const CwField *cw_record_get_fields(CwRecord *record, guint *n_fields);
const CwField *cw_kind_get_fields(GType kind, guint *n_fields);
const CwField *cw_record_find_field(CwRecord *record, const char *key);
CwFieldId cw_record_field_id(CwRecord *record, const CwField *field);
const CwField *cw_record_get_field_at(CwRecord *record, CwFieldId id);
const CwField *cw_record_get_identity(CwRecord *record);
char *cw_record_say_identity(CwRecord *record);

/* The tree */
CwRecord *cw_record_get_parent(CwRecord *record);
CwRecord *cw_record_get_root(CwRecord *record);
gboolean cw_record_is_snapshot(CwRecord *record);
CwRecord *cw_record_snapshot(CwRecord *record);
CwRecord *cw_record_copy(CwRecord *record);
gboolean cw_record_equal(CwRecord *one, CwRecord *other);
void cw_record_assign(CwRecord *record, CwRecord *source);

G_END_DECLS
