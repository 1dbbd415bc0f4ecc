/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An ear at the monitor of the bench's sink: when was the last sound that left the machine? */
#pragma once

#include <glib.h>

typedef struct {
  GPid process;
  int fd;
  GSource *readable, *beat;
  gint64 sounded_us;         /* when the last sound was heard, its way through the sound server included */
  gint64 turned_us, held_us; /* when the main loop last turned, and the longest that it did not */
} Monitor;

void monitor_begin(Monitor *monitor);
void monitor_end(Monitor *monitor);
gboolean monitor_sounds(const Monitor *monitor);
