/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sound/ring.h"

#include <glib.h>

static void test_order(void)
{
  CwRing *ring = cw_ring_new(5); /* room for 8 */
  float in[8] = {1, 2, 3, 4, 5, 6, 7, 8}, out[8];
  g_assert_cmpuint(cw_ring_room(ring), ==, 8);
  g_assert_cmpuint(cw_ring_read(ring, out, 8), ==, 0);
  g_assert_cmpuint(cw_ring_write(ring, in, 6), ==, 6);
  g_assert_cmpuint(cw_ring_read(ring, out, 4), ==, 4);
  g_assert_cmpmem(out, 16, in, 16);
  /* Over the end, and no more than fits. */
  g_assert_cmpuint(cw_ring_write(ring, in, 8), ==, 6);
  g_assert_cmpuint(cw_ring_room(ring), ==, 0);
  g_assert_cmpuint(cw_ring_read(ring, out, 8), ==, 8);
  const float expected[8] = {5, 6, 1, 2, 3, 4, 5, 6};
  g_assert_cmpmem(out, sizeof out, expected, sizeof expected);
  g_assert_cmpuint(cw_ring_waiting(ring), ==, 0);
  cw_ring_free(ring);
}

#define TOTAL 4000000u

static gpointer write_numbers(gpointer data)
{
  CwRing *ring = data;
  guint next = 0, seed = 1;
  while (next < TOTAL) {
    float piece[97];
    seed = seed * 1664525u + 1013904223u;
    guint count = MIN(1 + (seed >> 16) % 97, TOTAL - next);
    for (guint i = 0; i < count; i++)
      piece[i] = (float)((next + i) & 0xffffff); /* whole numbers that a float holds */
    guint wrote = (guint)cw_ring_write(ring, piece, count);
    next += wrote;
    if (wrote == 0)
      g_thread_yield();
  }
  return NULL;
}

/* One thread writes numbers in pieces of all sizes, the other reads them: each once, in order. */
static void test_two_threads(void)
{
  CwRing *ring = cw_ring_new(256);
  GThread *writer = g_thread_new("writer", write_numbers, ring);
  guint next = 0, seed = 2;
  while (next < TOTAL) {
    float piece[61];
    seed = seed * 1664525u + 1013904223u;
    gsize count = cw_ring_read(ring, piece, 1 + (seed >> 16) % 61);
    for (gsize i = 0; i < count; i++, next++)
      if (piece[i] != (float)(next & 0xffffff))
        g_error("number %u came as %g", next, piece[i]);
    if (count == 0)
      g_thread_yield();
  }
  g_thread_join(writer);
  g_assert_cmpuint(cw_ring_waiting(ring), ==, 0);
  cw_ring_free(ring);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/ring/order", test_order);
  g_test_add_func("/ring/two-threads", test_two_threads);
  return g_test_run();
}
