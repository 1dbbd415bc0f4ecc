/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers and tables of numbers from JSON, by what their field takes. */
#pragma once

#include "vehicle/json/json_scan.h"
#include "vehicle/record/field.h"
#include "vehicle/record/numbers.h"

G_BEGIN_DECLS

/* Reads one number and checks it by the field's limits. */
double cw_read_number(CwScan *scan, const CwField *field);

/* Reads the table of numbers that the field asks for; NULL on a fault. */
CwNumbers *cw_read_numbers(CwScan *scan, const CwField *field);

/* A table of numbers for a field from its JSON. */
CwNumbers *cw_numbers_from_json(const CwField *field, const char *json, GError **error);

G_END_DECLS
