/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/record/record.h"

G_BEGIN_DECLS

/* A record's JSON. Errors are of CW_RECORD_ERROR and name the place ("speakers[2].lowest_hz: 4 is below 10",
 * items counted from 0); the caller, who knows the file, puts its name in front. Members that the table does
 * not know are kept and written again after the others. */
CwRecord *cw_record_from_json(GType kind, const char *json, gssize length, GError **error);
char *cw_record_to_json(CwRecord *record, gsize *length);
char *cw_record_to_indented_json(CwRecord *record);
char *cw_record_value_to_json(CwRecord *record, const CwField *field);
gboolean cw_record_apply(CwRecord *record, const char *json, gssize length, GError **error);
gboolean cw_record_check(CwRecord *record, GError **error);

/* Compact JSON, which must be right, on several lines: a member or an object a line, lists of plain values on
 * one. */
char *cw_json_indent(const char *json);

G_END_DECLS
