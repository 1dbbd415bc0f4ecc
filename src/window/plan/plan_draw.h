/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "plot/plot.h"
#include "window/state/plan_places.h"

#include <cairo.h>

G_BEGIN_DECLS

/* What the drawing marks. */
typedef struct {
  gint64 chosen_output, playing_output; /* CW_NO_INTEGER for none */
  const char *chosen_seat;
  const char *focus_seat; /* the head that the keys move, or NULL */
  CwColour ink;
  double text_size;
  gboolean leads; /* which lead of the radio feeds which corner, instead of the names of the speakers */
} CwPlanLook;

/* From centimetres to the drawing's pixels; the car's front is up. */
typedef struct {
  double left, top, scale, length_cm, width_cm;
} CwPlanScale;

/* The largest drawing of the cabin that leaves room for names at both sides. */
CwPlanScale cw_plan_scale(CwRecord *vehicle, double width, double height, double text_size);
void cw_plan_to_pixels(const CwPlanScale *scale, CwPlace place, double *x, double *y);

/* The place under a pixel, within the cabin. */
CwPlace cw_plan_from_pixels(const CwPlanScale *scale, double x, double y, double z_cm);

/* How large a speaker is drawn, in pixels; smaller in a small drawing, but never too small to hit. */
double cw_plan_speaker_radius(const CwPlanScale *scale, CwRecord *speaker);

/* The whole plan, width by height from the origin. */
void cw_plan_draw(cairo_t *cr, CwRecord *vehicle, const CwPlanLook *look, double width, double height);

/* For other drawings in the same hand. */
void cw_plan_draw_text(cairo_t *cr, const CwPlanLook *look, const char *text, double x, double y,
                       double align, double width_most);
void cw_plan_path_rounded(cairo_t *cr, double x, double y, double width, double height, double radius);

G_END_DECLS
