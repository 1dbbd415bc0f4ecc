/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Words that fields of several kinds choose from. */
#include "vehicle/kinds/kinds.h"

#include <glib/gi18n-lib.h>

/* clang-format off */
CW_CHOICES(CwPolarity, CW_POLARITY, cw_polarities) = {{"normal", N_("Normal")}, {"inverted", N_("Inverted")}, {NULL, NULL}};
CW_CHOICES(CwSide, CW_SIDE, cw_sides) = {{"left", N_("Left")}, {"right", N_("Right")}, {"both", N_("Both")}, {NULL, NULL}};
