/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* Findings "limit-before-source", at the stage of tuning: where music at the source's loudest reaches a limit
 * of an output first, with a limiter or a gain that avoids it. */
void cw_job_find_early_limits(CwRecord *vehicle);

/* Findings "amplifier-too-strong" and "amplifier-too-weak", at the stage of supply and wiring: an output's
 * channel against what its speaker handles. */
void cw_job_find_power_mismatch(CwRecord *vehicle);

G_END_DECLS
