/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "monitor.h"

#include <glib-unix.h>
#include <math.h>
#include <signal.h>
#include <unistd.h>

#define RATE_HZ 48000
#define CHANNELS 2
#define SILENCE 1e-3f
#define BEAT_MS 5

/* The time of a sound is when it is read here, less what has been silent since. */
static gboolean on_readable(gint fd, GIOCondition condition, gpointer data)
{
  static float sample[65536];
  Monitor *monitor = data;
  gssize got = read(fd, sample, sizeof sample);
  gsize frames = got > 0 ? (gsize)got / sizeof *sample / CHANNELS : 0;
  gint64 now_us = g_get_monotonic_time();
  if (got <= 0)
    return G_SOURCE_REMOVE; /* the server has gone */
  for (gsize i = frames; i-- > 0;)
    if (fabsf(sample[i * CHANNELS]) > SILENCE || fabsf(sample[i * CHANNELS + 1]) > SILENCE) {
      monitor->sounded_us = now_us - (gint64)(frames - 1 - i) * G_USEC_PER_SEC / RATE_HZ;
      break;
    }
  return G_SOURCE_CONTINUE;
}

static gboolean on_beat(gpointer data)
{
  Monitor *monitor = data;
  gint64 now_us = g_get_monotonic_time();
  monitor->held_us = MAX(monitor->held_us, now_us - monitor->turned_us - BEAT_MS * 1000);
  monitor->turned_us = now_us;
  return G_SOURCE_CONTINUE;
}

void monitor_begin(Monitor *monitor)
{
  char *argv[] = {(char *)"parec",
                  (char *)"--device=bench.monitor",
                  (char *)"--latency-msec=5",
                  (char *)"--raw",
                  (char *)"--format=float32le",
                  (char *)"--rate=48000",
                  (char *)"--channels=2",
                  NULL};
  GError *error = NULL;
  *monitor = (Monitor){.turned_us = g_get_monotonic_time()};
  g_spawn_async_with_pipes(NULL, argv, NULL, G_SPAWN_SEARCH_PATH | G_SPAWN_DO_NOT_REAP_CHILD, NULL, NULL,
                           &monitor->process, NULL, &monitor->fd, NULL, &error);
  g_assert_no_error(error);
  g_unix_set_fd_nonblocking(monitor->fd, TRUE, NULL);
  monitor->readable = g_unix_fd_source_new(monitor->fd, G_IO_IN | G_IO_HUP);
  g_source_set_callback(monitor->readable, G_SOURCE_FUNC(on_readable), monitor, NULL);
  g_source_attach(monitor->readable, NULL);
  monitor->beat = g_timeout_source_new(BEAT_MS);
  g_source_set_callback(monitor->beat, on_beat, monitor, NULL);
  g_source_attach(monitor->beat, NULL);
}

void monitor_end(Monitor *monitor)
{
  g_source_destroy(monitor->readable);
  g_source_unref(monitor->readable);
  g_source_destroy(monitor->beat);
  g_source_unref(monitor->beat);
  kill(monitor->process, SIGTERM);
  g_spawn_close_pid(monitor->process);
  close(monitor->fd);
}

gboolean monitor_sounds(const Monitor *monitor)
{
  return g_get_monotonic_time() - monitor->sounded_us < 100000;
}
