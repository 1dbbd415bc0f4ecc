/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "simulator/practice_error.h"

/* clang-format off */
G_DEFINE_QUARK(cw-practice-error-quark, cw_practice_error)
/* clang-format on */
