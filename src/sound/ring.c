/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sound/ring.h"

#include <glib.h>
#include <stdatomic.h>
#include <string.h>

/* The counters run on for ever and wrap with size_t; their difference is what waits. Each has its own cache
 * line, so that the threads do not pull one line to and fro. */
struct CwRing {
  _Alignas(64) atomic_size_t written;
  _Alignas(64) atomic_size_t taken;
  _Alignas(64) size_t mask;
  float *sample;
};

CwRing *cw_ring_new(size_t samples)
{
  g_return_val_if_fail(samples >= 1 && samples <= (size_t)1 << 30, NULL);
  size_t size = 1;
  while (size < samples)
    size <<= 1;
  CwRing *ring = g_aligned_alloc0(1, sizeof *ring, _Alignof(CwRing));
  atomic_init(&ring->written, 0);
  atomic_init(&ring->taken, 0);
  ring->mask = size - 1;
  ring->sample = g_new0(float, size);
  return ring;
}

void cw_ring_free(CwRing *ring)
{
  if (!ring)
    return;
  g_free(ring->sample);
  g_aligned_free(ring);
}

size_t cw_ring_room(const CwRing *ring)
{
  return ring->mask + 1 - cw_ring_waiting(ring);
}

size_t cw_ring_waiting(const CwRing *ring)
{
  /* `taken` first: it only grows towards `written`, so a stale value never makes the difference negative. */
  size_t taken = atomic_load_explicit(&ring->taken, memory_order_acquire);
  return atomic_load_explicit(&ring->written, memory_order_acquire) - taken;
}

size_t cw_ring_write(CwRing *ring, const float *sample, size_t count)
{
  size_t written = atomic_load_explicit(&ring->written, memory_order_relaxed);
  /* Acquire: the reader has copied the samples out before their room is used again. */
  size_t room = ring->mask + 1 - (written - atomic_load_explicit(&ring->taken, memory_order_acquire));
  count = count < room ? count : room;
  size_t at = written & ring->mask, straight = ring->mask + 1 - at;
  straight = straight < count ? straight : count;
  memcpy(ring->sample + at, sample, straight * sizeof *sample);
  memcpy(ring->sample, sample + straight, (count - straight) * sizeof *sample);
  atomic_store_explicit(&ring->written, written + count, memory_order_release);
  return count;
}

size_t cw_ring_read(CwRing *ring, float *sample, size_t count)
{
  size_t taken = atomic_load_explicit(&ring->taken, memory_order_relaxed);
  size_t waiting = atomic_load_explicit(&ring->written, memory_order_acquire) - taken;
  count = count < waiting ? count : waiting;
  size_t at = taken & ring->mask, straight = ring->mask + 1 - at;
  straight = straight < count ? straight : count;
  memcpy(sample, ring->sample + at, straight * sizeof *sample);
  memcpy(sample + straight, ring->sample, (count - straight) * sizeof *sample);
  atomic_store_explicit(&ring->taken, taken + count, memory_order_release);
  return count;
}
