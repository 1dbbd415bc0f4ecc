/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "plot/plot.h"

G_BEGIN_DECLS

#define CW_PAPER_ERROR (cw_paper_error_quark())
GQuark cw_paper_error_quark(void);

/* A document that flows over A4 pages, with headings, text, tables and plots, as a tagged PDF with an outline
 * and page numbers. Colours, rules and sizes are the paper's; the content is the composer's. */
typedef struct CwPaper CwPaper;

typedef struct {
  const char *title, *subject, *creator; /* for the document's properties */
  const char *foot;                      /* at the left of every page's foot */
  gint64 made_unix;                      /* when it was made: the same content and time make the same bytes */
} CwPaperInfo;

/* A column of a table: its title, and its width as a part of the sum of all. */
typedef struct {
  const char *title;
  double weight;
  gboolean right; /* aligned to the right, for numbers */
} CwPaperColumn;

/* Says the content, top to bottom. It is called twice (the first time counts the pages) and must say the same
 * both times. */
typedef void (*CwPaperCompose)(CwPaper *paper, gpointer data);

/* The whole document as bytes of a PDF; NULL with CW_PAPER_ERROR if the drawing library fails. */
GBytes *cw_paper_make(const CwPaperInfo *info, CwPaperCompose compose, gpointer data, GError **error);

/* The document's name, once, at its top. */
void cw_paper_title(CwPaper *paper, const char *text);

/* A heading, also an entry of the outline; never the last thing on a page. */
void cw_paper_heading(CwPaper *paper, const char *text);
void cw_paper_text(CwPaper *paper, const char *text);

/* Text of less weight: what a figure shows, where a number comes from. */
void cw_paper_small(CwPaper *paper, const char *text);

/* An item of a list: a short mark in front, the text, and what may be said below it (may be NULL). */
void cw_paper_item(CwPaper *paper, const char *mark, const char *text, const char *more);

/* A table; cells row by row, n_rows times n_columns, NULL for an empty one. Its head stands again on every
 * page that it reaches. */
void cw_paper_table(CwPaper *paper, const CwPaperColumn *columns, guint n_columns, const char *const *cells,
                    guint n_rows);

/* A plot over the whole width. */
void cw_paper_plot(CwPaper *paper, const CwPlot *plot, double height_mm);

/* A text made of a format, shown by one of these. */
void cw_paper_say(CwPaper *paper, void (*show)(CwPaper *, const char *), const char *format, ...)
    G_GNUC_PRINTF(3, 4);

G_END_DECLS
