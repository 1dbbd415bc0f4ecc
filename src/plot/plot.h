/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <cairo.h>
#include <glib.h>

G_BEGIN_DECLS

/* Plots, drawn by one routine for screen, picture and paper. A plot is series (data), axes (from values to
 * places) and the look; the drawing is in plot_draw.h. Plain structs, no toolkit. */

typedef struct {
  double red, green, blue; /* 0 to 1 */
} CwColour;

typedef enum { CW_DASH_SOLID, CW_DASH_LONG, CW_DASH_SHORT, CW_DASH_DOT, CW_DASH_MIXED, CW_N_DASHES } CwDash;

/* Colours that people with any colour vision tell apart: the palette of Okabe and Ito, "Color Universal
 * Design" (2008). */
extern const CwColour cw_colour_orange, cw_colour_sky, cw_colour_green, cw_colour_yellow, cw_colour_blue,
    cw_colour_vermilion, cw_colour_purple, cw_colour_grey;

/* One line, or one band between y and y_high. NaN in y makes a gap. x rises. */
typedef struct {
  char *label; /* drawn at the line's end; may be NULL */
  guint count;
  double *x, *y, *y_high; /* y_high NULL for a line */
  CwColour colour;
  CwDash dash;
  double width; /* of the line, in pixels or points */
  double alpha; /* 0 to 1 */
} CwSeries;

typedef struct {
  double low, high;         /* what is shown; low < high, and above 0 on a logarithmic axis */
  double low_all, high_all; /* the whole of it, to which a view may be set back */
  gboolean logarithmic;
  const char *unit; /* static, "Hz" */
  const char *name; /* static, already in the reader's language */
} CwAxis;

typedef struct {
  CwAxis x, y;
  GPtrArray *series;       /* CwSeries, drawn in this order */
  int label_letters_least; /* room for labels this long at least, so that plots above each other have the same
                              width; 0 unless set */
} CwPlot;

/* Colours of what is not data, and sizes in pixels or points. */
typedef struct {
  CwColour ink;
  double text_size;
  gboolean labels_at_lines; /* FALSE leaves the room at the right to the data */
} CwPlotLook;

/* A mark of an axis. */
typedef struct {
  double value;
  gboolean strong; /* a label and a stronger line */
  char text[16];
} CwMark;

CwPlot *cw_plot_new(void);
void cw_plot_free(CwPlot *plot);
void cw_plot_clear(CwPlot *plot);
CwSeries *cw_plot_add(CwPlot *plot, const char *label, guint count, const double *x, const double *y);
CwSeries *cw_plot_add_band(CwPlot *plot, const char *label, guint count, const double *x, const double *low,
                           const double *high);
void cw_plot_set_frequency_axis(CwPlot *plot, double low_hz, double high_hz);
void cw_plot_set_level_axis(CwPlot *plot, const char *name, const char *unit, double low, double high);
void cw_plot_fit_level_axis(CwPlot *plot, double least_span, double step);
double cw_series_value_at(const CwSeries *series, double x);
char *cw_plot_to_csv(const CwPlot *plot);

gboolean cw_axis_is_usable(const CwAxis *axis);
double cw_axis_place(const CwAxis *axis, double value);
double cw_axis_value(const CwAxis *axis, double place);
void cw_axis_zoom(CwAxis *axis, double place, double factor);
void cw_axis_show(CwAxis *axis, double low, double high);
void cw_axis_show_all(CwAxis *axis);
GArray *cw_axis_marks(const CwAxis *axis, double room, double apart);
char *cw_axis_say(const CwAxis *axis, double value);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwPlot, cw_plot_free)

G_END_DECLS
