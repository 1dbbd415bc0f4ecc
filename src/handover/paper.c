/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "handover/paper_private.h"

#include "plot/plot_draw.h"
#include <cairo-pdf.h>
#include <math.h>

/* clang-format off */
G_DEFINE_QUARK(cw-paper-error-quark, cw_paper_error)
/* clang-format on */

#define FOOT (CW_PAPER_HEIGHT - 0.6 * CW_PAPER_MARGIN)
#define INNER_WIDTH (CW_PAPER_WIDTH - 2 * CW_PAPER_MARGIN)

PangoLayout *cw_paper_lay_out(CwPaper *paper, const char *text, double size, gboolean bold, double width)
{
  PangoLayout *layout = pango_cairo_create_layout(paper->cr);
  g_autoptr(PangoFontDescription) font = pango_font_description_from_string("Sans");
  pango_font_description_set_absolute_size(font, size * PANGO_SCALE);
  pango_font_description_set_weight(font, bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
  pango_layout_set_font_description(layout, font);
  pango_layout_set_width(layout, (int)(width * PANGO_SCALE));
  pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
  pango_layout_set_spacing(layout, (int)(0.15 * size * PANGO_SCALE));
  pango_layout_set_text(layout, text, -1);
  return layout;
}

double cw_paper_height_of(PangoLayout *layout)
{
  PangoRectangle ink, logical;
  pango_layout_get_extents(layout, &ink, &logical);
  return (double)logical.height / PANGO_SCALE;
}

void cw_paper_show(CwPaper *paper, PangoLayout *layout, double x, double y, double dark)
{
  cairo_set_source_rgb(paper->cr, 1 - dark, 1 - dark, 1 - dark);
  cairo_move_to(paper->cr, x, y);
  pango_cairo_show_layout(paper->cr, layout);
}

void cw_paper_rule(CwPaper *paper, double y, double dark)
{
  cairo_set_source_rgb(paper->cr, 1 - dark, 1 - dark, 1 - dark);
  cairo_set_line_width(paper->cr, 0.5);
  cairo_move_to(paper->cr, CW_PAPER_MARGIN, y);
  cairo_line_to(paper->cr, CW_PAPER_WIDTH - CW_PAPER_MARGIN, y);
  cairo_stroke(paper->cr);
}

static void end_page(CwPaper *paper)
{
  g_autofree char *number = g_strdup_printf("%u / %u", paper->page, paper->pages);
  g_autoptr(PangoLayout) foot =
      cw_paper_lay_out(paper, paper->info->foot ? paper->info->foot : "", 8, FALSE, 0.8 * INNER_WIDTH);
  g_autoptr(PangoLayout) page = cw_paper_lay_out(paper, number, 8, FALSE, 0.2 * INNER_WIDTH);
  cw_paper_rule(paper, FOOT - 4, 0.25);
  cw_paper_show(paper, foot, CW_PAPER_MARGIN, FOOT, 0.6);
  pango_layout_set_alignment(page, PANGO_ALIGN_RIGHT);
  cw_paper_show(paper, page, CW_PAPER_MARGIN + 0.8 * INNER_WIDTH, FOOT, 0.6);
  cairo_show_page(paper->cr);
  paper->page++;
  paper->y = CW_PAPER_MARGIN;
}

gboolean cw_paper_make_room(CwPaper *paper, double height)
{
  if (paper->y + height <= CW_PAPER_HEIGHT - 1.2 * CW_PAPER_MARGIN || paper->y <= CW_PAPER_MARGIN)
    return FALSE;
  end_page(paper);
  return TRUE;
}

/* One block of text under a tag, whole on a page where a page can hold it. */
static void put_block(CwPaper *paper, const char *tag, const char *text, double size, gboolean bold,
                      double dark)
{
  g_autoptr(PangoLayout) layout = cw_paper_lay_out(paper, text, size, bold, INNER_WIDTH);
  double height = cw_paper_height_of(layout);
  cw_paper_make_room(paper, height);
  cairo_tag_begin(paper->cr, tag, NULL);
  cw_paper_show(paper, layout, CW_PAPER_MARGIN, paper->y, dark);
  cairo_tag_end(paper->cr, tag);
  paper->y += height + 0.5 * size;
}

void cw_paper_title(CwPaper *paper, const char *text)
{
  put_block(paper, "H1", text, 20, TRUE, 0.9);
}

void cw_paper_heading(CwPaper *paper, const char *text)
{
  g_autofree char *link = NULL;
  if (!cw_paper_make_room(paper, 30 * CW_POINTS_PER_MM) && paper->y > CW_PAPER_MARGIN)
    paper->y += 8;
  link = g_strdup_printf("page=%u pos=[%.1f %.1f]", paper->page, CW_PAPER_MARGIN, paper->y);
  cairo_pdf_surface_add_outline(paper->surface, CAIRO_PDF_OUTLINE_ROOT, text, link, 0);
  put_block(paper, "H2", text, 13, TRUE, 0.9);
}

void cw_paper_text(CwPaper *paper, const char *text)
{
  put_block(paper, "P", text, CW_PAPER_TEXT_SIZE, FALSE, 0.85);
}

void cw_paper_small(CwPaper *paper, const char *text)
{
  put_block(paper, "P", text, 8, FALSE, 0.65);
}

void cw_paper_item(CwPaper *paper, const char *mark, const char *text, const char *more)
{
  double indent = (g_utf8_strlen(mark, -1) > 2 ? 20 : 6) * CW_POINTS_PER_MM, width = INNER_WIDTH - indent;
  g_autoptr(PangoLayout) first = cw_paper_lay_out(paper, mark, CW_PAPER_TEXT_SIZE, TRUE, indent - 6);
  g_autoptr(PangoLayout) main = cw_paper_lay_out(paper, text, CW_PAPER_TEXT_SIZE, more && *more, width);
  g_autoptr(PangoLayout) below =
      more && *more ? cw_paper_lay_out(paper, more, CW_PAPER_TEXT_SIZE, FALSE, width) : NULL;
  double height = fmax(cw_paper_height_of(main), cw_paper_height_of(first)),
         rest = below ? cw_paper_height_of(below) + 1 : 0;
  cw_paper_make_room(paper, height + rest);
  cairo_tag_begin(paper->cr, "P", NULL);
  cw_paper_show(paper, first, CW_PAPER_MARGIN, paper->y, 0.85);
  cw_paper_show(paper, main, CW_PAPER_MARGIN + indent, paper->y, 0.85);
  if (below)
    cw_paper_show(paper, below, CW_PAPER_MARGIN + indent, paper->y + height + 1, 0.85);
  cairo_tag_end(paper->cr, "P");
  paper->y += height + rest + 5;
}

void cw_paper_plot(CwPaper *paper, const CwPlot *plot, double height_mm)
{
  const CwPlotLook look = {.ink = {0.1, 0.1, 0.1}, .text_size = 8, .labels_at_lines = TRUE};
  double height = height_mm * CW_POINTS_PER_MM;
  cw_paper_make_room(paper, height);
  cairo_tag_begin(paper->cr, "Figure", NULL);
  cairo_save(paper->cr);
  cairo_translate(paper->cr, CW_PAPER_MARGIN, paper->y);
  cw_plot_draw(paper->cr, plot, &look, INNER_WIDTH, height);
  cairo_restore(paper->cr);
  cairo_tag_end(paper->cr, "Figure");
  paper->y += height + 6;
}

static cairo_status_t keep(void *closure, const unsigned char *data, unsigned int length)
{
  if (closure)
    g_byte_array_append(closure, data, length);
  return CAIRO_STATUS_SUCCESS;
}

static void set_properties(cairo_surface_t *surface, const CwPaperInfo *info)
{
  g_autoptr(GDateTime) made = g_date_time_new_from_unix_utc(info->made_unix);
  g_autofree char *date =
      made ? g_date_time_format(made, "%Y-%m-%dT%H:%M:%SZ") : g_strdup("1970-01-01T00:00:00Z");
  cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, info->title);
  if (info->subject)
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_SUBJECT, info->subject);
  if (info->creator)
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATOR, info->creator);
  cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, date);
  cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_MOD_DATE, date);
}

/* One pass; returns how many pages it made, 0 if cairo failed. */
static guint run_pass(const CwPaperInfo *info, CwPaperCompose compose, gpointer data, guint pages,
                      GByteArray *bytes, GError **error)
{
  cairo_surface_t *surface =
      cairo_pdf_surface_create_for_stream(keep, bytes, CW_PAPER_WIDTH, CW_PAPER_HEIGHT);
  CwPaper paper = {.info = info,
                   .surface = surface,
                   .cr = cairo_create(surface),
                   .y = CW_PAPER_MARGIN,
                   .page = 1,
                   .pages = pages};
  set_properties(surface, info);
  compose(&paper, data);
  end_page(&paper);
  cairo_status_t status = cairo_status(paper.cr);
  cairo_destroy(paper.cr);
  cairo_surface_finish(surface);
  if (status == CAIRO_STATUS_SUCCESS)
    status = cairo_surface_status(surface);
  cairo_surface_destroy(surface);
  if (status == CAIRO_STATUS_SUCCESS)
    return paper.page - 1;
  g_set_error(error, CW_PAPER_ERROR, 0, "the report could not be drawn: %s", cairo_status_to_string(status));
  return 0;
}

GBytes *cw_paper_make(const CwPaperInfo *info, CwPaperCompose compose, gpointer data, GError **error)
{
  g_return_val_if_fail(info && info->title && compose, NULL);
  guint pages = run_pass(info, compose, data, 1, NULL, error);
  GByteArray *bytes = g_byte_array_new();
  if (pages && run_pass(info, compose, data, pages, bytes, error))
    return g_byte_array_free_to_bytes(bytes);
  g_byte_array_unref(bytes);
  return NULL;
}

void cw_paper_say(CwPaper *paper, void (*show)(CwPaper *, const char *), const char *format, ...)
{
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *text = g_strdup_vprintf(format, arguments);
  va_end(arguments);
  show(paper, text);
}
