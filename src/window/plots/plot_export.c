/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/plots/plot_export.h"

#include "job/output_file.h"
#include "window/state/session.h"
#include "window/widgets/questions.h"

#include <glib/gi18n-lib.h>
#include <pango/pangocairo.h>

GdkTexture *cw_plot_to_texture(const CwPlot *plot, CwPlotDraw draw, const CwPlotLook *look,
                               const CwColour *paper, int width, int height, int scale)
{
  cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, width * scale, height * scale);
  cairo_t *cr = cairo_create(surface);
  cairo_scale(cr, scale, scale);
  if (paper) {
    cairo_set_source_rgb(cr, paper->red, paper->green, paper->blue);
    cairo_paint(cr);
  }
  draw(cr, plot, look, width, height);
  cairo_destroy(cr);
  cairo_surface_flush(surface);
  gsize stride = (gsize)cairo_image_surface_get_stride(surface);
  g_autoptr(GBytes) bytes =
      g_bytes_new(cairo_image_surface_get_data(surface), stride * (gsize)height * (gsize)scale);
  cairo_surface_destroy(surface);
  return gdk_memory_texture_new(width * scale, height * scale, GDK_MEMORY_DEFAULT, bytes, stride);
}

void cw_plot_copy_picture(GtkWidget *widget, const CwPlot *plot)
{
  CwPlotLook look = {.ink = {0, 0, 0}, .text_size = 13, .labels_at_lines = TRUE};
  CwColour paper = {1, 1, 1};
  g_autoptr(GdkTexture) texture = cw_plot_to_texture(plot, cw_plot_draw, &look, &paper, 1000, 500, 2);
  gdk_clipboard_set_texture(gtk_widget_get_clipboard(widget), texture);
}

typedef struct {
  GtkWidget *widget;
  char *csv;
} Data;

static void data_free(gpointer pointer)
{
  Data *data = pointer;
  g_object_unref(data->widget);
  g_free(data->csv);
  g_free(data);
}

static void on_path(const char *path, gpointer pointer)
{
  Data *data = pointer;
  g_autoptr(GError) error = NULL;
  CwSession *session = cw_session_of(gtk_widget_get_root(data->widget));
  gboolean written = cw_job_write_file(path, data->csv, -1, CW_REPLACE_ANY, &error);
  if (session && written)
    cw_session_tell(session, CW_TOLD_DONE, _("The data are in %s."), path);
  else if (session)
    cw_session_tell(session, CW_TOLD_FAILED, _("The data were not written: %s. Choose another folder."),
                    error->message);
}

void cw_plot_save_data(GtkWidget *widget, const CwPlot *plot)
{
  Data *data = g_new0(Data, 1);
  *data = (Data){g_object_ref(widget), cw_plot_to_csv(plot)};
  cw_ask_path(widget, GTK_FILE_CHOOSER_ACTION_SAVE, _("Save the data"), _("plot.csv"), _("Tables"), "*.csv",
              on_path, data, data_free);
}

void cw_plot_draw_words(cairo_t *cr, const CwPlotLook *look, const char *words, double right, double middle)
{
  g_autoptr(PangoLayout) layout = pango_cairo_create_layout(cr);
  g_autoptr(PangoFontDescription) font = pango_font_description_from_string("Sans");
  int width, height;
  pango_font_description_set_absolute_size(font, look->text_size * PANGO_SCALE);
  pango_layout_set_font_description(layout, font);
  pango_layout_set_text(layout, words, -1);
  pango_layout_get_pixel_size(layout, &width, &height);
  cairo_set_source_rgba(cr, look->ink.red, look->ink.green, look->ink.blue, 0.95);
  cairo_move_to(cr, right - width, middle - height / 2.0);
  pango_cairo_show_layout(cr, layout);
}
