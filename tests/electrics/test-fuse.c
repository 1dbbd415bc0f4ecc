/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "electrics/fuse.h"

/* A list of ratings among the check values holds a fuse. */
static gboolean is_listed(const char *id, const char *list, size_t n, double fuse_a)
{
  for (size_t i = 0; i < n; i++) {
    g_autofree char *key = g_strdup_printf("%s.%zu", list, i);
    if (check_number(id, key) == fuse_a)
      return TRUE;
  }
  return FALSE;
}

static gboolean is_published(double fuse_a)
{
  return is_listed("fuse.blade_ratings", "small", 10, fuse_a) ||
         is_listed("fuse.blade_ratings", "regular", 12, fuse_a) ||
         is_listed("fuse.blade_ratings", "large", 7, fuse_a);
}

static gboolean is_offered(double fuse_a)
{
  const double *fuses;
  size_t n = cw_fuses(&fuses);
  for (size_t i = 0; i < n; i++)
    if (fuses[i] == fuse_a)
      return TRUE;
  return FALSE;
}

/* Every fuse is told to be what it is: published where a published list of blade fuses has it, from memory
 * where only the list from memory (ISO 8820-3's types C and E) has it, common practice where none does. */
static void test_provenance(void)
{
  const double *fuses;
  size_t n = cw_fuses(&fuses), counts[4] = {0};
  for (size_t i = 0; i < n; i++) {
    gboolean remembered =
        is_listed("fuse.ratings", "C", 13, fuses[i]) || is_listed("fuse.ratings", "E", 7, fuses[i]);
    CwProvenance provenance = cw_fuse_provenance(fuses[i]);
    g_assert_cmpint(provenance, ==,
                    is_published(fuses[i]) ? CW_PUBLISHED
                    : remembered           ? CW_FROM_MEMORY
                                           : CW_COMMON_PRACTICE);
    counts[provenance]++;
    if (i)
      g_assert_cmpfloat(fuses[i], >, fuses[i - 1]);
  }
  g_assert_cmpuint(counts[CW_PUBLISHED], ==, 12 + 7 - 3); /* 20, 30 and 40 A are regular and large */
  g_assert_cmpuint(counts[CW_FROM_MEMORY], ==, 1);        /* 35 A */
}

/* Every blade fuse of the published lists is offered. */
static void test_complete(void)
{
  static const struct {
    const char *list;
    size_t n;
  } lists[] = {{"small", 10}, {"regular", 12}, {"large", 7}};
  for (size_t l = 0; l < G_N_ELEMENTS(lists); l++)
    for (size_t i = 0; i < lists[l].n; i++) {
      g_autofree char *key = g_strdup_printf("%s.%zu", lists[l].list, i);
      g_assert_true(is_offered(check_number("fuse.blade_ratings", key)));
    }
}

/* For any current the fuse is not below it, and the next smaller one is; bolted fuses, above 80 A, too. */
static void test_choice(void)
{
  const double *fuses;
  size_t n = cw_fuses(&fuses);
  for (size_t i = 0; i < n; i++) {
    double below = i ? fuses[i - 1] : 0;
    g_assert_cmpfloat(cw_fuse_for(fuses[i]), ==, fuses[i]);
    g_assert_cmpfloat(cw_fuse_for((below + fuses[i]) / 2), ==, fuses[i]);
    g_assert_cmpfloat(cw_fuse_for(nextafter(below, INFINITY)), ==, fuses[i]);
  }
  /* No step is so wide that the fuse would be more than twice the current, down to the smallest. */
  for (double current = fuses[0]; current < fuses[n - 1]; current *= 1.01)
    g_assert_cmpfloat(cw_fuse_for(current), <, 2 * current);
  g_assert_true(isnan(cw_fuse_for(nextafter(fuses[n - 1], INFINITY))));
  g_assert_true(isnan(cw_fuse_for(NAN)));
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/electrics/fuse/provenance", test_provenance);
  g_test_add_func("/electrics/fuse/complete", test_complete);
  g_test_add_func("/electrics/fuse/choice", test_choice);
  return g_test_run();
}
