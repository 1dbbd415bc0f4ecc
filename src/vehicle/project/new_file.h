/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <gio/gio.h>

G_BEGIN_DECLS

gboolean cw_new_file_write(const char *path, const void *bytes, gsize length, GError **error);

G_END_DECLS
