/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <gio/gio.h>

G_BEGIN_DECLS

/* Writes a new file, whole and safe on the disk, or not at all. What is already there is never replaced: that
 * is G_IO_ERROR_EXISTS. The error has the path in front. */
gboolean cw_new_file_write(const char *path, const void *bytes, gsize length, GError **error);

G_END_DECLS
