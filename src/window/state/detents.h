/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* What the vehicle's processor can be set to: a value is brought to the nearest. */
double cw_detent_frequency_hz(CwRecord *vehicle, double hz);
double cw_detent_section_gain_db(CwRecord *vehicle, double db);
double cw_detent_q(CwRecord *vehicle, double q);
double cw_detent_delay_samples(CwRecord *vehicle, double samples, double rate_hz);

G_END_DECLS
