/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "processor/limits.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* What the sheet's processor can do, as plain numbers for the tuning room. Lifts of a section are kept to 6
 * dB whatever the processor allows. */
CwLimits cw_job_limits(CwRecord *processor);

G_END_DECLS
