/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/record/record.h"

G_BEGIN_DECLS

/* The values of a record's fields. Code that means one field calls the function of its kind in
 * vehicle/kinds/kind_fields.h, which is made from the tables and checked by the compiler; the functions here
 * are for code that handles fields in general. A field of another kind than the record's, or of another type
 * than the function's, is the programmer's mistake: it is complained of, a get then gives nothing (NaN,
 * CW_NO_INTEGER, FALSE, -1, NULL) and a set does nothing. Values are borrowed by get, until the field
 * changes, and copied by set unless said otherwise. */

/* A number; NaN where the field may be empty and is. */
double cw_record_get_number_at(CwRecord *record, CwFieldId id);

/* Sets a number, brought into the field's limits. NaN empties a field that may be empty; elsewhere a value
 * that is not finite is the programmer's mistake and changes nothing. */
void cw_record_set_number_at(CwRecord *record, CwFieldId id, double value);

/* A whole number; CW_NO_INTEGER where the field may be empty and is. */
gint64 cw_record_get_integer_at(CwRecord *record, CwFieldId id);

/* Sets a whole number, brought into the field's limits; CW_NO_INTEGER empties a field that may be empty. */
void cw_record_set_integer_at(CwRecord *record, CwFieldId id, gint64 value);

/* Yes or no. */
gboolean cw_record_get_boolean_at(CwRecord *record, CwFieldId id);

/* Sets yes or no. */
void cw_record_set_boolean_at(CwRecord *record, CwFieldId id, gboolean value);

/* A text, never NULL, or the word of a choice, NULL where that may be empty and is. */
const char *cw_record_get_text_at(CwRecord *record, CwFieldId id);

/* Sets a text (UTF-8; NULL is the empty text), or a choice by its word (NULL empties one that may be empty).
 */
void cw_record_set_text_at(CwRecord *record, CwFieldId id, const char *value);

/* The index of the chosen word in the field's choices, -1 for none. */
int cw_record_get_choice_at(CwRecord *record, CwFieldId id);

/* Sets a choice by its index; -1 empties one that may be empty. */
void cw_record_set_choice_at(CwRecord *record, CwFieldId id, int choice);

/* The label of the chosen word, in the reader's language; "" for none. Static. */
const char *cw_record_say_choice_at(CwRecord *record, CwFieldId id);

/* A list, curve, rows or numbers by name; never NULL. */
const CwNumbers *cw_record_get_numbers_at(CwRecord *record, CwFieldId id);

/* Sets a table of numbers, and takes the caller's reference. It must have the field's columns, finite numbers
 * (NaN where the field may be empty) and, for a curve or rows, a first column that rises; the limits are
 * applied as for one number. */
void cw_record_take_numbers_at(CwRecord *record, CwFieldId id, CwNumbers *value);

/* The same; the caller keeps its reference. */
void cw_record_set_numbers_at(CwRecord *record, CwFieldId id, const CwNumbers *value);

/* A list of texts that ends with NULL; never NULL itself. */
const char *const *cw_record_get_texts_at(CwRecord *record, CwFieldId id);

/* Sets a list of texts (UTF-8, ends with NULL; NULL is the empty list). */
void cw_record_set_texts_at(CwRecord *record, CwFieldId id, const char *const *value);

/* The one child in a field, NULL where that may be missing and is. */
CwRecord *cw_record_get_child_at(CwRecord *record, CwFieldId id);

/* Puts a record that is no part of another, and of the field's kind, in place of the child; NULL takes away a
 * child that may be missing. The record keeps a reference of its own. */
void cw_record_set_child_at(CwRecord *record, CwFieldId id, CwRecord *child);

/* The child in a field, made if it was missing; borrowed. */
CwRecord *cw_record_make_child_at(CwRecord *record, CwFieldId id);

/* The list of children in a field; never NULL. */
CwList *cw_record_get_children_at(CwRecord *record, CwFieldId id);

/* Appends a new record to the list of children in a field; borrowed. */
CwRecord *cw_record_add_child_at(CwRecord *record, CwFieldId id);

/* FALSE where a field that may be empty is: NaN, no number, no word, no child; or an empty text or list. */
gboolean cw_record_is_known_at(CwRecord *record, CwFieldId id);

G_END_DECLS
