/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Values as JSON text, for whoever writes JSON that is no record's. */
#pragma once

#include <glib.h>

G_BEGIN_DECLS

/* Adds a text as JSON, in quotes. */
void cw_append_json_text(GString *json, const char *text);

/* Adds a number as JSON, with the fewest digits that read back as the same double. What is not known (NaN),
 * and what has no end, is null. */
void cw_append_json_number(GString *json, double value);
void cw_append_json_truth(GString *json, gboolean truth);

/* The key of an object's next member with its colon, and a comma in front where it is not the first. */
void cw_append_json_key(GString *json, const char *key);

/* A member: key and value. */
void cw_append_json_member(GString *json, const char *key, double value);
void cw_append_json_text_member(GString *json, const char *key, const char *text);
void cw_append_json_truth_member(GString *json, const char *key, gboolean truth);

G_END_DECLS
