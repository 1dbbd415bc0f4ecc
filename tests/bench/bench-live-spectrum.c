/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The live spectrum's share of one core: two channels, 1/12 octave, 20 updates a second. Returns 1 above the
 * bar of 5 %. */
#include "signal/live/live_spectrum.h"
#include "signal/memory.h"
#include "signal/stimulus/noise.h"
#include <stdio.h>
#include <time.h>

#define SECONDS 20

static double share_of_core(double rate_hz)
{
  size_t frames = (size_t)(rate_hz / 20);
  double *noise = cw_alloc_real(frames), level[200], peak[200];
  float *samples = cw_alloc_bytes(2 * frames * sizeof *samples);
  CwLiveSpectrum *live[2];

  cw_white_noise_render(1, 0.1, frames, noise);
  for (size_t i = 0; i < 2 * frames; i++)
    samples[i] = (float)noise[i / 2];
  for (int channel = 0; channel < 2; channel++)
    live[channel] = cw_live_spectrum_new(rate_hz, 12, 20, 20000);
  clock_t start = clock();
  for (int update = 0; update < 20 * SECONDS; update++)
    for (int channel = 0; channel < 2; channel++) {
      cw_live_spectrum_push(live[channel], samples + channel, 2, frames);
      cw_live_spectrum_update(live[channel]);
      cw_live_spectrum_read(live[channel], level, peak);
    }
  double share = (double)(clock() - start) / CLOCKS_PER_SEC / SECONDS;
  for (int channel = 0; channel < 2; channel++)
    cw_live_spectrum_free(live[channel]);
  cw_free(noise);
  cw_free(samples);
  return 100 * share;
}

int main(void)
{
  double at_48 = share_of_core(48000), at_96 = share_of_core(96000);

  printf("live spectrum, two channels, 20 updates a second: %.2f %% of a core at 48 kHz, %.2f %% at 96 kHz "
         "(bar 5 %%)\n",
         at_48, at_96);
  return at_48 > 5 || at_96 > 5;
}
