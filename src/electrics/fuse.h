/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "electrics/provenance.h"

#include <stddef.h>

/* The standard fuses, A, rising; static. Returns how many. */
size_t cw_fuses(const double **fuses_a);

/* The smallest standard fuse not below a current, A; NAN if there is none. */
double cw_fuse_for(double current_a);

/* Where it is known from that a standard fuse is made: CW_PUBLISHED for the blade fuses up to 80 A,
 * CW_FROM_MEMORY for 35 A, CW_COMMON_PRACTICE for the bolted ones above. */
CwProvenance cw_fuse_provenance(double fuse_a);
