/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/plan/plan_draw.h"

G_BEGIN_DECLS

/* The leads of the factory radio on the plan: each as a tag at the corner that it feeds. */
void cw_plan_draw_leads(cairo_t *cr, CwRecord *vehicle, const CwPlanLook *look, const CwPlanScale *scale);

/* The same in words, appended. */
void cw_plan_describe_leads(CwRecord *vehicle, GString *words);

G_END_DECLS
