/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/record/record.h"

G_BEGIN_DECLS

/* A field's value as text that a person types and reads, and back. Numbers may be typed with a point or a
 * comma, lengths with a unit behind; items of a list stand apart by a space or a semicolon, rows of a curve
 * by a new line. */
char *cw_value_to_text(CwRecord *record, const CwField *field);
gboolean cw_value_from_text(CwRecord *record, const CwField *field, const char *text, GError **error);
gboolean cw_number_from_text(const CwField *field, const char *text, double *value, GError **error);
char *cw_number_to_text(double value);
char *cw_field_number_to_text(const CwField *field, double value);

G_END_DECLS
