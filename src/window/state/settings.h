/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <gio/gio.h>

G_BEGIN_DECLS

/* What the window remembers. Without the schema (not installed, not beside the program) nothing is remembered
 * and the program works all the same. */
GSettings *cw_settings_get(void);
int cw_settings_get_integer(const char *key, int otherwise);
gboolean cw_settings_get_boolean(const char *key, gboolean otherwise);
void cw_settings_set_integer(const char *key, int value);
void cw_settings_set_boolean(const char *key, gboolean value);

G_END_DECLS
