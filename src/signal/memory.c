/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/memory.h"
#include <fftw3.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void *alloc_zeroed(size_t count, size_t size)
{
  void *array = count > SIZE_MAX / size ? NULL : fftw_malloc(count ? count * size : size);
  if (!array) {
    fprintf(stderr, "cabinwright: out of memory\n");
    abort();
  }
  memset(array, 0, count * size);
  return array;
}

double *cw_alloc_real(size_t count)
{
  return alloc_zeroed(count, sizeof(double));
}

CwComplex *cw_alloc_complex(size_t count)
{
  return alloc_zeroed(count, sizeof(CwComplex));
}

void *cw_alloc_bytes(size_t count)
{
  return alloc_zeroed(count, 1);
}

void cw_free(void *array)
{
  fftw_free(array);
}
