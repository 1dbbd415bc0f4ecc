/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <glib-object.h>

G_BEGIN_DECLS

typedef enum {
  CW_FIELD_TEXT,    /* string */
  CW_FIELD_NUMBER,  /* double */
  CW_FIELD_INTEGER, /* gint64 */
  CW_FIELD_BOOLEAN, /* gboolean */
  CW_FIELD_CHOICE,  /* one of the field's words */
  CW_FIELD_NUMBERS, /* CwNumbers, one column: [1, 2, 3] */
  CW_FIELD_NAMED,   /* CwNumbers with names: {"driver": 98.5} */
  CW_FIELD_ROWS,    /* CwNumbers, `columns` wide: [[20, 0.1, 0.2], ...]; the first column rises */
  CW_FIELD_CURVE,   /* CwNumbers, two columns, hz and dB: [[20, -3.5], ...]; hz rises */
  CW_FIELD_TEXTS,   /* list of strings */
  CW_FIELD_RECORD,  /* one child record */
  CW_FIELD_RECORDS, /* a list of child records */
} CwFieldType;

typedef enum {
  CW_FIELD_REQUIRED = 1 << 0, /* must be in the document; a text must not be empty */
  CW_FIELD_NULLABLE =
      1 << 1, /* null is a value: NaN, CW_NO_INTEGER, no word, no child; in a curve, NaN for an unknown dB */
  CW_FIELD_IDENTITY = 1 << 2, /* tells the children of a list apart: no two alike */
  CW_FIELD_HIDDEN = 1 << 3,   /* not for the sheet */
  CW_FIELD_WHOLE = 1 << 4,    /* NUMBERS: whole numbers only */
  CW_FIELD_RISES = 1 << 5,    /* NUMBERS: each above the one before */
  CW_FIELD_SPARSE = 1 << 6,   /* not written while it is empty */
  CW_FIELD_FILLED = 1 << 7,   /* IDENTITY: where the document has none, one that is free is given */
} CwFieldFlags;

#define CW_NO_INTEGER G_MININT64

/* A word of a choice: as the document writes it, and as the window says it (translatable). */
typedef struct {
  const char *word;
  const char *label;
} CwChoice;

/* Define the words of a choice, as CW_CHOICES(CwSide, CW_SIDE, sides) = {{"left", N_("Left")}, ..., {NULL,
 * NULL}}. The enumeration of their order is made from the words (CW_SIDE_LEFT ...); with the second form it
 * is one that a room further up has, and each word stands at its value: [CW_COPPER] = {"copper", ...}. */
#define CW_CHOICES(Type, PREFIX, name) const CwChoice name[]
#define CW_CHOICES_OF(Type, name) const CwChoice name[]

/* One row of a record kind's table. Where least and most are equal, there is no limit. For lists and curves
 * the limits are those of each number (of the dB of a curve). `choices` ends with a NULL word. */
typedef struct {
  const char *key;
  CwFieldType type;
  const char *unit;
  double least, most;
  double initial;           /* NUMBER, INTEGER, BOOLEAN, and CHOICE (its index) that are not nullable */
  const char *initial_text; /* TEXT; TEXTS: words with a comma between; NUMBERS, ROWS, CURVE: the JSON without
                               spaces */
  const CwChoice *choices;
  const char *label;
  const char *meaning;
  GType (*child)(void);
  guint columns;     /* ROWS: how wide; NUMBERS: how many there must be, 0 for any number of them */
  guint significant; /* CURVE, ROWS: digits that are kept of a number; 0 for all. Measured curves need no more
                        than six */
  CwFieldFlags flags;
} CwField;

/* What a field is called by code: it tells the kind of record and the field's place in the kind's table. The
 * identifiers are made from the tables, as CW_SPEAKER_FIELD_LOWEST_HZ; no file holds them. */
typedef guint CwFieldId;
#define CW_NO_FIELD ((CwFieldId)0)

#define CW_RECORD_ERROR (cw_record_error_quark())
GQuark cw_record_error_quark(void);

typedef enum {
  CW_RECORD_ERROR_SYNTAX,    /* not JSON, or more than is taken */
  CW_RECORD_ERROR_VALUE,     /* JSON, but not this kind of record */
  CW_RECORD_ERROR_REFERENCE, /* something named that is not there, or two of the same */
} CwRecordError;

/* TRUE if the field's numbers have a least and a most. */
gboolean cw_field_has_limits(const CwField *field);

/* Refuses a number that the field does not take: "4 is below 10", "30 is above 20", "2.5 is not a whole
 * number". NaN passes where the field is nullable. The message has no place in front: the caller knows it. */
gboolean cw_field_check_number(const CwField *field, double value, GError **error);

/* The nearest number that the field takes; NaN stays. */
double cw_field_bring_into_limits(const CwField *field, double value);

/* The index of a word among the field's choices, -1 if it is none of them. */
int cw_field_find_choice(const CwField *field, const char *word);

/* "high, mid, low" for messages; the caller frees it. */
char *cw_field_list_choices(const CwField *field);

/* How many columns the field's table of numbers has; 0 for a field without one. */
guint cw_field_columns(const CwField *field);

/* The same as a new string; "nothing" for NaN, for messages. */
char *cw_format_number(double value);

/* Adds a finite number as JSON: the fewest digits that read back as the same double, always with a full stop.
 */
void cw_append_number(GString *text, double value);

G_END_DECLS
