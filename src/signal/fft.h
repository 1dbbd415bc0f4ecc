/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/memory.h"

/* Real transforms with kept plans. A plan is made when first used, once for each length and direction, shared
 * by all threads and kept until the program ends. Any arrays will do; those from cw_alloc_real() and
 * cw_alloc_complex() are fastest, others are copied (and so allocate). */
typedef struct CwFft CwFft;

/* The plan for count real samples (count >= 1). Never NULL, owned by the room. Safe from any thread. */
const CwFft *cw_fft_get(size_t count);

/* The smallest length not below count whose prime factors are 2, 3, 5 and which is even. */
size_t cw_fft_good_length(size_t count);

/* Spectrum of count real samples: count / 2 + 1 bins, unscaled. Input and output may not overlap. */
void cw_fft_forward(const CwFft *fft, const double *samples, CwComplex *bins);

/* The inverse, scaled by 1 / count, so that it undoes cw_fft_forward(). The bins are destroyed. */
void cw_fft_inverse(const CwFft *fft, CwComplex *bins, double *samples);

/* Linear convolution of two real signals into out, which takes count_a + count_b - 1 samples. */
void cw_convolve(const double *a, size_t count_a, const double *b, size_t count_b, double *out);

/* Complex transform of any length in place, unscaled, for the analytic signal and its like: sign -1 forward,
 * +1 inverse. */
void cw_fft_complex(CwComplex *values, size_t count, int sign);
