/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/recording.h"
#include <math.h>
#include <sys/mman.h>
#include <unistd.h>

/* A fuzz target (libFuzzer's entry point): whatever a file holds, reading it ends with finite samples or with
 * one line of error. Built with -Dc_args=-fsanitize=fuzzer-no-link under clang. */
int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size);

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size)
{
  int file = memfd_create("recording", 0);
  g_autofree char *path = g_strdup_printf("/proc/self/fd/%d", file);
  g_autoptr(GError) error = NULL;

  g_assert_true(file >= 0 && write(file, data, size) == (ssize_t)size);
  g_autoptr(CwRecording) recording = cw_recording_read(path, &error);
  g_assert_true((recording != NULL) != (error != NULL));
  for (guint c = 0; recording && c < recording->channels; c++)
    for (gsize i = 0; i < recording->frames; i++)
      g_assert_true(isfinite(recording->channel[c][i]));
  close(file);
  return 0;
}
