/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the client's tests share: a client whose signals and results are kept, a loop that ends, a tone to
 * play. */
#pragma once

#include "sound/client/client.h"

#define RATE_HZ 48000

typedef struct {
  CwSoundTake *take;
  GError *error;
  gboolean done;
  char *failed;
  guint levels, live_blocks, devices;
  guint64 live_frames;
  float output_peak;
  CwSoundState state;
} Heard;

void client_bench_on_played(GObject *source, GAsyncResult *result, gpointer data);
void client_bench_on_done(GObject *source, GAsyncResult *result, gpointer data);
CwSoundClient *client_bench_make_client(const char *helper, Heard *heard);
void client_bench_clear_heard(Heard *heard);
void client_bench_run_until(const gboolean *done, double seconds);
void client_bench_run_for(double seconds);
float *client_bench_make_tone(gsize frames, double hz, double level);
void client_bench_make_job(CwSoundJob *job, const float *feed, gsize frames, guint32 output);
