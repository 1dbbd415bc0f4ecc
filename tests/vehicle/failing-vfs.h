/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <glib.h>

/* A layer between SQLite and the disk that makes the n-th change of a file fail (a write, truncation, sync or
 * deletion, counted from 1), and with `stays` all that follow; n = 0 fails none. Of a write that fails, the
 * first half is done. */
void failing_vfs_install(void);
void failing_vfs_set(guint n, gboolean stays, int code);
guint failing_vfs_count(void);
