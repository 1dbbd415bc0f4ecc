/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Counts what an audio callback must not do: allocate, free, lock. Linked into a test program, it stands
 * before the C library's own functions, in every library of the process. Sanitizers need that place for
 * themselves: cw_guard_works() is FALSE then.
 */
#pragma once

#include <glib.h>

gboolean cw_guard_works(void);
/* Between the two, this thread's forbidden calls are counted. */
void cw_guard_begin(void);
guint cw_guard_end(void);
