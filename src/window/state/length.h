/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/record/field.h"

G_BEGIN_DECLS

/* Lengths are kept in centimetres, and shown in inches where the person wants them so: by the menu, or before
 * that by the locale. */
#define CW_CM_PER_INCH 2.54

/* Whether the person wants inches; centimetres otherwise. */
gboolean cw_length_in_inches(void);

/* TRUE where the field is a length that is shown in another unit than it is kept in. */
gboolean cw_length_is_converted(const CwField *field);

/* The unit that stands beside the field's value; NULL for none. */
const char *cw_length_unit_of(const CwField *field);

/* "98 cm" or "38.6 in"; the caller's. */
char *cw_length_say(double cm);

/* Takes the locale's unit where none was chosen yet. */
void cw_length_choose_first(void);

G_END_DECLS
