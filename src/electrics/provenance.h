/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

/* Where a figure that safety rests on comes from. Everything but CW_PUBLISHED is said to the user beside the
 * figure. */
typedef enum {
  CW_PUBLISHED,       /* a standard, a law or a published table */
  CW_DERIVED,         /* from a published figure, by the rule that the function tells */
  CW_COMMON_PRACTICE, /* the trade's, no source */
  CW_FROM_MEMORY      /* not verified against a published text */
} CwProvenance;
