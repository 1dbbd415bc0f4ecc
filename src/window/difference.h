/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/kinds.h"

G_BEGIN_DECLS

/* What differs between two states of a vehicle, in words a technician reads: one line a value. */
GPtrArray *cw_difference_lines(CwRecord *before, CwRecord *after);

G_END_DECLS
