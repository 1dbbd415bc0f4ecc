/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/filters/filter_editor.h"

G_BEGIN_DECLS

/* An input of the tune, which one of the radio's leads feeds, as the filter editor's subject: the lead before
 * and after its correction. */
typedef struct {
  CwSession *session;
  gint64 lead; /* that is looked at; CW_NO_INTEGER for none */
} CwInputCurve;

#define CW_INPUT_LABEL_LETTERS 12 /* room for the names of curves, the same in the mix above it */

extern const CwFilterSubject cw_input_filters; /* its data: a CwInputCurve */

/* The live input, borrowed; NULL where the mix leaves the lead out. */
CwRecord *cw_input_curve_find(CwInputCurve *curve);

G_END_DECLS
