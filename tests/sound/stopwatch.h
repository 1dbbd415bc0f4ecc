/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A stopwatch that knows how slow the machine is. Promises of time are made for a machine that has nothing else
 * to do; on a busy one a process waits for its turn. A thread beside the test works a millisecond in every twenty
 * and sees how long that takes: by so much a promise may be late. */
#pragma once
#include <glib.h>

typedef struct {
  gint64 start_us, wall_us, work_us;
} Stopwatch;

/* Starts counting; the first call starts the thread. */
Stopwatch stopwatch_start(void);

/* Since the start, seconds. */
double stopwatch_seconds(const Stopwatch *watch);

/* How many times longer than on an idle machine work has taken since the start; 1 and more. Waits until the
 * thread has worked once in that time. */
double stopwatch_slowness(const Stopwatch *watch);
