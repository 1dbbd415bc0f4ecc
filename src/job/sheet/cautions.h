/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

const char *const *cw_job_cautions(int stage);

G_END_DECLS
