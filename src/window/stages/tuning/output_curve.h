/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/filters/filter_editor.h"
#include "window/state/predicted_car.h"

G_BEGIN_DECLS

/* The session's output as the filter editor's subject: measured and predicted alone at the seat, its target,
 * and what was before. */
typedef struct CwOutputCurve CwOutputCurve;

extern const CwFilterSubject cw_output_filters; /* its data: a CwOutputCurve */

/* The curve of the chosen output with its filters. Free with cw_output_curve_free(). */
CwOutputCurve *cw_output_curve_new(CwSession *session, CwPredictedCar *forecast);

/* Frees it; its widgets belong to their parents. */
void cw_output_curve_free(CwOutputCurve *curve);

/* predicted FALSE where the forecast has nothing to show; with_before to show what it compares with. */
void cw_output_curve_show(CwOutputCurve *curve, gboolean predicted, gboolean with_before);

G_END_DECLS
