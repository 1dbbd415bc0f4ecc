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

/* An empty plot from 20 Hz to 20 kHz and of 60 dB; the caller frees it. */
CwPlot *cw_plot_new(void);
void cw_plot_free(CwPlot *plot);

/* Takes the series away; the axes stay as they are. */
void cw_plot_clear(CwPlot *plot);

/* Adds a line through count points, which are copied. The series is the plot's; colour and dash are the
 * caller's to set. */
CwSeries *cw_plot_add(CwPlot *plot, const char *label, guint count, const double *x, const double *y);

/* Adds a band from low to high. */
CwSeries *cw_plot_add_band(CwPlot *plot, const char *label, guint count, const double *x, const double *low,
                           const double *high);

/* A logarithmic axis of frequency; what was shown of the old one is kept where it is the same axis. */
void cw_plot_set_frequency_axis(CwPlot *plot, double low_hz, double high_hz);

/* A linear axis, of levels or of anything else. */
void cw_plot_set_level_axis(CwPlot *plot, const char *name, const char *unit, double low, double high);

/* Sets the vertical axis so that all data are in it, on whole steps and at least least_span wide. A view that
 * was zoomed stays so when the whole did not change. */
void cw_plot_fit_level_axis(CwPlot *plot, double least_span, double step);

/* The value of a series at x, by straight lines (over log x where x is above 0); NaN outside and in gaps. */
double cw_series_value_at(const CwSeries *series, double x);

/* The data as CSV, one row a point and series, numbers with a full stop; the caller's. */
char *cw_plot_to_csv(const CwPlot *plot);

/* FALSE for an axis of no length, on which nothing can be drawn. */
gboolean cw_axis_is_usable(const CwAxis *axis);

/* Where a value stands: 0 at the axis' low end, 1 at its high end; outside of that for values beyond. */
double cw_axis_place(const CwAxis *axis, double value);

/* The value at a place. */
double cw_axis_value(const CwAxis *axis, double place);

/* Shows factor times as much (below 1: closer), with the value at the place where it is. */
void cw_axis_zoom(CwAxis *axis, double place, double factor);

/* Shows a part of the axis, brought inside the whole of it; a part too small to read is not taken. */
void cw_axis_show(CwAxis *axis, double low, double high);
void cw_axis_show_all(CwAxis *axis);

/* The marks of an axis that is room long, labels at least `apart` from each other: ISO 266 frequencies on a
 * logarithmic axis, steps of 1, 2 or 5 elsewhere and where less than an octave is shown. An array of CwMark,
 * the caller's. */
GArray *cw_axis_marks(const CwAxis *axis, double room, double apart);

/* A value in words, for the readout ("1.25 kHz", "-3.5 dB"); the caller's. */
char *cw_axis_say(const CwAxis *axis, double value);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwPlot, cw_plot_free)

G_END_DECLS
