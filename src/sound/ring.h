/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A queue of samples between one writing thread and one reading thread. Neither ever waits, locks or
 * allocates, so either may be an audio callback.
 */
#pragma once

#include <stddef.h>

typedef struct CwRing CwRing;

/* Room for at least `samples` (1 to 2^30). Never NULL. */
CwRing *cw_ring_new(size_t samples);
void cw_ring_free(CwRing *ring);

/* For the writer: how many samples fit now, and writing. Returns how many were taken: all that fit, in order.
 */
size_t cw_ring_room(const CwRing *ring);
size_t cw_ring_write(CwRing *ring, const float *sample, size_t count);

/* For the reader: how many samples wait, and reading at most `count` of them. Returns how many were read. */
size_t cw_ring_waiting(const CwRing *ring);
size_t cw_ring_read(CwRing *ring, float *sample, size_t count);
