/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "simulator/convolver.h"
#include "signal/fft.h"

#include <string.h>

typedef struct {
  CwComplex *filter;  /* parts spectra, one after the other; NULL: silent */
  CwComplex *history; /* as many of the input's latest double blocks; `newest` is the ring's head */
  gboolean *sounding; /* whether each of these holds anything */
  double *input;      /* the block before and the present one */
  guint sounding_parts;
} Source;

struct CwConvolver {
  guint sources, block, parts, newest;
  gsize length, bins;
  const CwFft *fft;
  Source *source;
  CwComplex *sum;
  double *work;
};

CwConvolver *cw_convolver_new(guint sources, gsize length, guint block)
{
  g_return_val_if_fail(sources > 0 && length > 0 && block > 0, NULL);
  CwConvolver *convolver = g_new0(CwConvolver, 1);
  convolver->sources = sources;
  convolver->block = block;
  convolver->length = length;
  convolver->parts = (guint)((length + block - 1) / block);
  convolver->bins = (gsize)block + 1;
  convolver->fft = cw_fft_get(2 * (gsize)block);
  convolver->source = g_new0(Source, sources);
  convolver->sum = cw_alloc_complex(convolver->bins);
  convolver->work = cw_alloc_real(2 * (gsize)block);
  for (guint i = 0; i < sources; i++) {
    convolver->source[i].history = cw_alloc_complex(convolver->parts * convolver->bins);
    convolver->source[i].sounding = g_new0(gboolean, convolver->parts);
    convolver->source[i].input = cw_alloc_real(2 * (gsize)block);
  }
  return convolver;
}

void cw_convolver_free(CwConvolver *convolver)
{
  if (!convolver)
    return;
  for (guint i = 0; i < convolver->sources; i++) {
    cw_free(convolver->source[i].filter);
    cw_free(convolver->source[i].history);
    cw_free(convolver->source[i].input);
    g_free(convolver->source[i].sounding);
  }
  g_free(convolver->source);
  cw_free(convolver->sum);
  cw_free(convolver->work);
  g_free(convolver);
}

void cw_convolver_set(CwConvolver *convolver, guint source, const double *response)
{
  g_return_if_fail(convolver != NULL && source < convolver->sources && response != NULL);
  Source *its = &convolver->source[source];
  if (!its->filter)
    its->filter = cw_alloc_complex(convolver->parts * convolver->bins);
  for (guint part = 0; part < convolver->parts; part++) {
    gsize from = (gsize)part * convolver->block;
    memset(convolver->work, 0, 2 * (gsize)convolver->block * sizeof *convolver->work);
    memcpy(convolver->work, response + from,
           MIN(convolver->block, convolver->length - from) * sizeof *response);
    cw_fft_forward(convolver->fft, convolver->work, its->filter + part * convolver->bins);
  }
}

static gboolean is_silent(const double *sample, gsize count)
{
  for (gsize i = 0; i < count; i++)
    if (sample[i] != 0)
      return FALSE;
  return TRUE;
}

void cw_convolver_put(CwConvolver *convolver, guint source, const double *block)
{
  Source *its = &convolver->source[source];
  gsize bytes = convolver->block * sizeof *block;
  memcpy(its->input, its->input + convolver->block, bytes);
  if (block)
    memcpy(its->input + convolver->block, block, bytes);
  else
    memset(its->input + convolver->block, 0, bytes);
  /* The head moves on in run(), after all sources have put: the place after it is the oldest. */
  guint head = (convolver->newest + 1) % convolver->parts;
  its->sounding_parts -= its->sounding[head] ? 1 : 0;
  its->sounding[head] = !is_silent(its->input, 2 * (gsize)convolver->block);
  its->sounding_parts += its->sounding[head] ? 1 : 0;
  if (its->sounding[head])
    cw_fft_forward(convolver->fft, its->input, its->history + head * convolver->bins);
}

static void add_source(CwConvolver *convolver, const Source *its)
{
  for (guint part = 0; part < convolver->parts; part++) {
    guint slot = (convolver->newest + convolver->parts - part) % convolver->parts;
    if (!its->sounding[slot])
      continue;
    const double *x = (const double *)(its->history + slot * convolver->bins);
    const double *h = (const double *)(its->filter + part * convolver->bins);
    double *sum = (double *)convolver->sum;
    /* Written out in reals: C's complex product would look for infinities at every bin. */
    for (gsize k = 0; k < 2 * convolver->bins; k += 2) {
      sum[k] += x[k] * h[k] - x[k + 1] * h[k + 1];
      sum[k + 1] += x[k] * h[k + 1] + x[k + 1] * h[k];
    }
  }
}

void cw_convolver_run(CwConvolver *convolver, double *block)
{
  gboolean sounds = FALSE;
  convolver->newest = (convolver->newest + 1) % convolver->parts;
  for (guint i = 0; i < convolver->sources; i++) {
    const Source *its = &convolver->source[i];
    if (!its->filter || its->sounding_parts == 0)
      continue;
    if (!sounds)
      memset(convolver->sum, 0, convolver->bins * sizeof *convolver->sum);
    sounds = TRUE;
    add_source(convolver, its);
  }
  if (!sounds) {
    memset(block, 0, convolver->block * sizeof *block);
    return;
  }
  cw_fft_inverse(convolver->fft, convolver->sum, convolver->work);
  memcpy(block, convolver->work + convolver->block, convolver->block * sizeof *block);
}
