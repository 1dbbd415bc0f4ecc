/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "survey/check/trouble.h"

/* A word for a code, as findings and documents carry it: "take-dropout". Static. */
const char *cw_trouble_name(CwTroubleCode code);

/* One sentence on what was seen, with its figures, for people, in their language. Free with g_free(). */
char *cw_trouble_say(const CwTrouble *trouble);
