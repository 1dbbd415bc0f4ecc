/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "handover/paper_private.h"

#include <math.h>

#define CELL_SIZE 8.5
#define GAP 9.0 /* between columns */

/* Where the columns are. */
typedef struct {
  const CwPaperColumn *columns;
  guint n_columns;
  double *x, *width;
} Grid;

static Grid make_grid(const CwPaperColumn *columns, guint n_columns)
{
  Grid grid = {columns, n_columns, g_new(double, n_columns), g_new(double, n_columns)};
  double sum = 0, x = CW_PAPER_MARGIN, room = CW_PAPER_WIDTH - 2 * CW_PAPER_MARGIN - GAP * (n_columns - 1);
  for (guint i = 0; i < n_columns; i++)
    sum += columns[i].weight;
  for (guint i = 0; i < n_columns; i++) {
    grid.x[i] = x;
    grid.width[i] = room * columns[i].weight / sum;
    x += grid.width[i] + GAP;
  }
  return grid;
}

/* A row's cells laid out, and how high the highest is. */
static double lay_out_row(CwPaper *paper, const Grid *grid, const char *const *cells, gboolean bold,
                          PangoLayout **layouts)
{
  double height = 0;
  for (guint i = 0; i < grid->n_columns; i++) {
    layouts[i] = cw_paper_lay_out(paper, cells[i] ? cells[i] : "", CELL_SIZE, bold, grid->width[i]);
    if (grid->columns[i].right)
      pango_layout_set_alignment(layouts[i], PANGO_ALIGN_RIGHT);
    height = fmax(height, cw_paper_height_of(layouts[i]));
  }
  return height;
}

static void show_row(CwPaper *paper, const Grid *grid, PangoLayout **layouts, double height, const char *tag)
{
  cairo_tag_begin(paper->cr, "TR", NULL);
  for (guint i = 0; i < grid->n_columns; i++) {
    cairo_tag_begin(paper->cr, tag, NULL);
    cw_paper_show(paper, layouts[i], grid->x[i], paper->y, 0.85);
    cairo_tag_end(paper->cr, tag);
    g_object_unref(layouts[i]);
  }
  cairo_tag_end(paper->cr, "TR");
  paper->y += height + 2;
  cw_paper_rule(paper, paper->y, g_str_equal(tag, "TH") ? 0.7 : 0.15);
  paper->y += 2;
}

static void put_head(CwPaper *paper, const Grid *grid)
{
  g_autofree const char **titles = g_new(const char *, grid->n_columns);
  g_autofree PangoLayout **layouts = g_new(PangoLayout *, grid->n_columns);
  for (guint i = 0; i < grid->n_columns; i++)
    titles[i] = grid->columns[i].title;
  double height = lay_out_row(paper, grid, titles, TRUE, layouts);
  cw_paper_make_room(paper, height + 4 * CELL_SIZE);
  cairo_tag_begin(paper->cr, "Table", NULL);
  show_row(paper, grid, layouts, height, "TH");
}

void cw_paper_table(CwPaper *paper, const CwPaperColumn *columns, guint n_columns, const char *const *cells,
                    guint n_rows)
{
  g_return_if_fail(n_columns > 0);
  Grid grid = make_grid(columns, n_columns);
  g_autofree PangoLayout **layouts = g_new(PangoLayout *, n_columns);
  put_head(paper, &grid);
  for (guint row = 0; row < n_rows; row++) {
    double height = lay_out_row(paper, &grid, cells + row * n_columns, FALSE, layouts);
    /* A tag must not reach over a page: the table ends with the page and begins anew on the next. */
    if (paper->y + height + 4 > CW_PAPER_HEIGHT - 1.2 * CW_PAPER_MARGIN) {
      cairo_tag_end(paper->cr, "Table");
      cw_paper_make_room(paper, CW_PAPER_HEIGHT);
      put_head(paper, &grid);
    }
    show_row(paper, &grid, layouts, height, "TD");
  }
  cairo_tag_end(paper->cr, "Table");
  paper->y += 8;
  g_free(grid.x);
  g_free(grid.width);
}
