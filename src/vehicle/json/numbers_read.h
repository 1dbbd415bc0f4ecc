/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers and tables of numbers from JSON, by what their field takes. */
#pragma once

#include "vehicle/json/json_scan.h"
#include "vehicle/record/field.h"
#include "vehicle/record/numbers.h"

G_BEGIN_DECLS

double cw_read_number(CwScan *scan, const CwField *field);
CwNumbers *cw_read_numbers(CwScan *scan, const CwField *field);
CwNumbers *cw_numbers_from_json(const CwField *field, const char *json, GError **error);

G_END_DECLS
