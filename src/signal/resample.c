/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/resample.h"
#include <math.h>
#include <soxr.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

size_t cw_resample_frames(size_t frames, double ratio)
{
  return frames ? (size_t)floor((double)(frames - 1) * ratio + 1e-9) + 1 : 0;
}

size_t cw_resample(const double *in, size_t frames, double ratio, double *out)
{
  size_t count = cw_resample_frames(frames, ratio), done = 0;
  soxr_io_spec_t io = soxr_io_spec(SOXR_FLOAT64_I, SOXR_FLOAT64_I);
  /* Without ROLLOFF_NONE the pass band falls by 0.002 dB at 0.83 of the half rate, which is an error of -74
   * dB. */
  soxr_quality_spec_t quality = soxr_quality_spec(SOXR_VHQ, SOXR_HI_PREC_CLOCK | SOXR_ROLLOFF_NONE);
  soxr_runtime_spec_t runtime = soxr_runtime_spec(1);

  if (!(ratio >= 0.01 && ratio <= 100) || frames == 0)
    return 0;
  soxr_error_t error =
      soxr_oneshot(1, ratio, 1, in, frames, NULL, out, count, &done, &io, &quality, &runtime);
  if (error) { /* with arguments in range, memory is all that can fail, and that ends the program in this room
                */
    fprintf(stderr, "cabinwright: %s\n", error);
    abort();
  }
  memset(out + done, 0, (count - done) * sizeof *out);
  return count;
}
