/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Values as JSON text, for whoever writes JSON that is no record's. */
#pragma once

#include <glib.h>

G_BEGIN_DECLS

void cw_append_json_text(GString *json, const char *text);
void cw_append_json_number(GString *json, double value);

G_END_DECLS
