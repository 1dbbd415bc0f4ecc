/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "processor/limits.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* One filter as a person sets it: a crossover of order 4 is one filter, and two second-order sections in the
 * processor. Frequencies in Hz, gains in dB. */
typedef struct {
  int use;            /* CW_USE_CROSSOVER ... */
  CwSectionKind kind; /* below CW_SECTION_KINDS_OFFERED */
  bool has_family;    /* low-pass and high-pass by family and order; else by Q, or order 1 */
  CwFilterFamily family;
  int order;
  double frequency_hz, gain_db, q;
  bool bypass;
} CwFilter;

/* The filter of a tune section (CwTuneSection). */
CwFilter cw_filter_read(CwRecord *section);

/* Writes all of the filter into a tune section; what it does not hold (why) stays. */
void cw_filter_write(const CwFilter *filter, CwRecord *section);

/* The second-order sections that make the filter at rate_hz, and what each is. Both arrays take
 * CW_CROSSOVER_MOST_SECTIONS; described may be NULL. Returns how many; 0 where the filter cannot be made at
 * that rate. A bypassed filter is made all the same. */
size_t cw_filter_expand(const CwFilter *filter, double rate_hz, CwCoefficients *coefficients,
                        CwSection *described);

/* Sets error to say that the filter cannot be made at rate_hz; always FALSE. */
gboolean cw_filter_refuse(const CwFilter *filter, double rate_hz, GError **error);

#define CW_FILTER_ERROR (cw_filter_error_quark())
GQuark cw_filter_error_quark(void);
typedef enum { CW_FILTER_ERROR_IMPOSSIBLE } CwFilterError;

/* Brings frequency, gain and Q to what the processor can be set to. FALSE, and the filter unchanged, where it
 * has no such kind, or cannot boost, cut or reach so far. */
bool cw_filter_bring_to(const CwLimits *limits, CwFilter *filter);

G_END_DECLS
