/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading the practice bay's JSON texts: everything bounded, every error with its place. */
#pragma once

#include "simulator/practice_car.h"

#include <json-glib/json-glib.h>

/* The text's root object, or NULL with CW_PRACTICE_ERROR: too long, too deep, or not JSON. Unref the
 * node. */
JsonNode *cw_practice_json_parse(const char *text, GError **error);

/* A place in the text, for errors. `error` is filled at the first failure and everything after it is skipped.
 */
typedef struct {
  JsonObject *object;
  const char *path; /* "speakers[2]" */
  GError **error;
} CwPracticeJson;

/* TRUE when something has failed. */
gboolean cw_practice_json_failed(const CwPracticeJson *json);
void cw_practice_json_fail(const CwPracticeJson *json, const char *key, const char *expected);

/* Members. A missing one gives `missing`; NAN as `missing` makes a number mandatory. */
double cw_practice_json_number(const CwPracticeJson *json, const char *key, double least, double most,
                               double missing);
gboolean cw_practice_json_flag(const CwPracticeJson *json, const char *key, gboolean missing);
/* A text of the caller's; NULL as `missing` makes it mandatory (and gives "" on failure). */
char *cw_practice_json_text(const CwPracticeJson *json, const char *key, const char *missing);
/* Exactly `count` numbers, mandatory. */
void cw_practice_json_numbers(const CwPracticeJson *json, const char *key, double least, double most,
                              guint count, double *number);
/* Calls `read` for each object in the array `key` (at most `most`; missing is empty) and returns how many
 * there are. */
guint cw_practice_json_each(const CwPracticeJson *json, const char *key, guint most,
                            void (*read)(const CwPracticeJson *item, guint index, gpointer data),
                            gpointer data);
/* Calls `read` for the object `key`, if there is one. */
gboolean cw_practice_json_inside(const CwPracticeJson *json, const char *key,
                                 void (*read)(const CwPracticeJson *item, gpointer data), gpointer data);

/* A car's description at this place; the caller's. NULL when it has failed. */
CwPracticeCar *cw_practice_car_read(const CwPracticeJson *json);
