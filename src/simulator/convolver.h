/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Many signals, each through its own long filter, added into one: block by block, by uniformly partitioned
 * overlap-save (Stockham, AFIPS 1966; partitioned as in Kulp, AES 85, 1988). A block in gives a block out
 * without delay.
 */
#pragma once

#include <glib.h>

typedef struct CwConvolver CwConvolver;

/* For `sources` filters of `length` samples and blocks of `block` samples. */
CwConvolver *cw_convolver_new(guint sources, gsize length, guint block);
void cw_convolver_free(CwConvolver *convolver);

/* Sets a source's filter; until then it is silent. */
void cw_convolver_set(CwConvolver *convolver, guint source, const double *response);

/* Puts in a source's next block (NULL for silence): once for each source, then run() for the sum of all. */
void cw_convolver_put(CwConvolver *convolver, guint source, const double *block);
void cw_convolver_run(CwConvolver *convolver, double *block);
