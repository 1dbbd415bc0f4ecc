/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "stopwatch.h"

#include <time.h>

#define WORK_US 1000
#define REST_US 19000
#define WAKING_PART 0.1 /* of a burst, which waking up takes on an idle machine too */

static GMutex lock;
static gint64 all_wall_us, all_work_us; /* of the thread's bursts of work */

static gint64 processor_us(void)
{
  struct timespec now;
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return (gint64)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

/* From when it should wake up, which it may do late, to the end of a burst of work. */
static gpointer work(gpointer unused)
{
  for (;;) {
    gint64 due_us = g_get_monotonic_time() + REST_US, before_us = processor_us();
    g_usleep(REST_US);
    while (processor_us() - before_us < WORK_US)
      ;
    gint64 wall_us = g_get_monotonic_time() - due_us, work_us = processor_us() - before_us;
    g_mutex_lock(&lock);
    all_wall_us += wall_us;
    all_work_us += work_us;
    g_mutex_unlock(&lock);
  }
  return unused;
}

static void read_all(gint64 *wall_us, gint64 *work_us)
{
  g_mutex_lock(&lock);
  *wall_us = all_wall_us;
  *work_us = all_work_us;
  g_mutex_unlock(&lock);
}

Stopwatch stopwatch_start(void)
{
  static gsize started;
  Stopwatch watch;
  if (g_once_init_enter(&started)) {
    g_thread_unref(g_thread_new("stopwatch", work, NULL));
    g_once_init_leave(&started, 1);
  }
  read_all(&watch.wall_us, &watch.work_us);
  watch.start_us = g_get_monotonic_time();
  return watch;
}

double stopwatch_seconds(const Stopwatch *watch)
{
  return (double)(g_get_monotonic_time() - watch->start_us) / 1e6;
}

double stopwatch_slowness(const Stopwatch *watch)
{
  gint64 wall_us, work_us;
  for (read_all(&wall_us, &work_us); work_us == watch->work_us; read_all(&wall_us, &work_us))
    g_usleep(1000);
  double times = (double)(wall_us - watch->wall_us) / (double)(work_us - watch->work_us);
  return MAX(times - WAKING_PART, 1);
}
