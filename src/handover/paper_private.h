/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "handover/paper.h"
#include <pango/pangocairo.h>

/* Sizes in points. A4 is 210 by 297 mm (ISO 216). */
#define CW_POINTS_PER_MM (72 / 25.4)
#define CW_PAPER_WIDTH (210 * CW_POINTS_PER_MM)
#define CW_PAPER_HEIGHT (297 * CW_POINTS_PER_MM)
#define CW_PAPER_MARGIN (20 * CW_POINTS_PER_MM)
#define CW_PAPER_TEXT_SIZE 9.5

struct CwPaper {
  const CwPaperInfo *info;
  cairo_surface_t *surface;
  cairo_t *cr;
  double y; /* where the next thing goes */
  guint page, pages;
};

/* Begins a new page unless height fits on this one. TRUE if it did. */
gboolean cw_paper_make_room(CwPaper *paper, double height);

/* Text laid out to a width; the caller's. Weight and size as given. */
PangoLayout *cw_paper_lay_out(CwPaper *paper, const char *text, double size, gboolean bold, double width);
double cw_paper_height_of(PangoLayout *layout);

/* Shows it with its upper left corner at x, y, in ink of this darkness (1 black). */
void cw_paper_show(CwPaper *paper, PangoLayout *layout, double x, double y, double dark);
void cw_paper_rule(CwPaper *paper, double y, double dark);
