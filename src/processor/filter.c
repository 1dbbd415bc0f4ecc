/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "processor/filter.h"

/* clang-format off */
G_DEFINE_QUARK(cw-filter-error-quark, cw_filter_error)
/* clang-format on */

CwFilter cw_filter_read(CwRecord *section)
{
  return (CwFilter){.use = cw_tune_section_get_use(section),
                    .kind = cw_tune_section_get_kind(section),
                    .has_family = cw_tune_section_has_family(section),
                    .family = cw_tune_section_has_family(section)
                                  ? (CwFilterFamily)cw_tune_section_get_family(section)
                                  : CW_FILTER_BUTTERWORTH,
                    .order = (int)cw_tune_section_get_order(section),
                    .frequency_hz = cw_tune_section_get_frequency_hz(section),
                    .gain_db = cw_tune_section_get_gain_db(section),
                    .q = cw_tune_section_get_q(section),
                    .bypass = cw_tune_section_get_bypass(section)};
}

void cw_filter_write(const CwFilter *filter, CwRecord *section)
{
  cw_tune_section_set_use(section, filter->use);
  cw_tune_section_set_kind(section, (int)filter->kind);
  if (filter->has_family) {
    cw_tune_section_set_family(section, (int)filter->family);
    cw_tune_section_set_order(section, filter->order);
  }
  cw_tune_section_set_frequency_hz(section, filter->frequency_hz);
  if (cw_section_kind_has_gain(filter->kind))
    cw_tune_section_set_gain_db(section, filter->gain_db);
  if (!filter->has_family)
    cw_tune_section_set_q(section, filter->q);
  cw_tune_section_set_bypass(section, filter->bypass);
}

size_t cw_filter_expand(const CwFilter *filter, double rate_hz, CwCoefficients *coefficients,
                        CwSection *described)
{
  CwSection section = {filter->kind, filter->frequency_hz,
                       cw_section_kind_has_gain(filter->kind) ? filter->gain_db : 0, filter->q};
  bool pass = filter->kind == CW_SECTION_LOW_PASS || filter->kind == CW_SECTION_HIGH_PASS;

  if (pass && filter->has_family)
    return cw_crossover_design(filter->family,
                               filter->kind == CW_SECTION_HIGH_PASS ? CW_HIGH_PASS : CW_LOW_PASS,
                               filter->order, filter->frequency_hz, rate_hz, coefficients, described);
  if (pass && filter->order == 1)
    section.kind =
        filter->kind == CW_SECTION_LOW_PASS ? CW_SECTION_LOW_PASS_FIRST : CW_SECTION_HIGH_PASS_FIRST;
  if (described)
    *described = section;
  return cw_section_design(&section, rate_hz, coefficients) ? 1 : 0;
}

gboolean cw_filter_refuse(const CwFilter *filter, double rate_hz, GError **error)
{
  g_set_error(error, CW_FILTER_ERROR, CW_FILTER_ERROR_IMPOSSIBLE,
              "%s at %g Hz cannot be made at a sample rate of %g Hz", cw_section_kind_name(filter->kind),
              filter->frequency_hz, rate_hz);
  return FALSE;
}

static bool has_kind(const CwLimits *limits, CwSectionKind kind)
{
  switch (kind) {
  case CW_SECTION_ALL_PASS:
    return limits->all_pass;
  case CW_SECTION_LOW_SHELF:
  case CW_SECTION_HIGH_SHELF:
    return limits->shelves;
  default:
    return true;
  }
}

bool cw_filter_bring_to(const CwLimits *limits, CwFilter *filter)
{
  double gain_db = cw_limits_on_step(filter->gain_db, limits->gain_step_db);

  if (!has_kind(limits, filter->kind) || filter->frequency_hz >= 0.5 * limits->rate_hz ||
      (cw_section_kind_has_gain(filter->kind) &&
       (gain_db < limits->section_gain_least_db || gain_db > limits->section_gain_most_db)))
    return false;
  filter->frequency_hz = cw_limits_frequency_hz(limits, filter->frequency_hz, 0);
  filter->gain_db = gain_db;
  filter->q = cw_limits_q(limits, filter->q, 0);
  return true;
}
