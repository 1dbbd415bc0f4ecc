/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/response/minimum_phase.h"
#include <math.h>

void cw_minimum_phase(const double *magnitude, size_t length, CwComplex *response, double *phase)
{
  size_t bins = length / 2 + 1;
  const CwFft *fft = cw_fft_get(length);
  CwComplex *spectrum = cw_alloc_complex(bins);
  double *cepstrum = cw_alloc_real(length);

  for (size_t i = 0; i < bins; i++)
    spectrum[i] = log(fmax(magnitude[i], 1e-30));
  cw_fft_inverse(fft, spectrum, cepstrum);
  for (size_t i = 1; i < length / 2; i++) {
    cepstrum[i] *= 2;
    cepstrum[length - i] = 0;
  }
  cw_fft_forward(fft, cepstrum, spectrum);
  for (size_t i = 0; i < bins; i++) {
    if (phase)
      phase[i] = cimag(spectrum[i]);
    if (response)
      response[i] = magnitude[i] * (cos(cimag(spectrum[i])) + I * sin(cimag(spectrum[i])));
  }
  cw_free(spectrum);
  cw_free(cepstrum);
}
