/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <complex.h>
#include <stddef.h>

typedef double complex CwComplex;

/* Arrays for the signal room, aligned for the transforms and filled with zeros. Like GLib's, these end the
 * program when memory is exhausted, so callers need not check. Freed by cw_free(), which accepts NULL. */
double *cw_alloc_real(size_t count);
CwComplex *cw_alloc_complex(size_t count);
void *cw_alloc_bytes(size_t count);
void cw_free(void *array);
