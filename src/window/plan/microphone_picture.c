/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/plan/microphone_picture.h"

#include "job/takes/positions.h"
#include "window/plan/plan_draw.h"
#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>

#define TEXT_SIZE 12.5
#define HEIGHT 128
#define VIEW_WIDTH 146    /* of each of the two views */
#define PIXELS_PER_CM 2.6 /* at the drawn size */
#define HEAD_CM 9.0
#define MARK_CM 1.7

struct _CwMicrophonePicture {
  GtkWidget parent_instance;
  char *position; /* "driver/3" */
};

G_DEFINE_FINAL_TYPE(CwMicrophonePicture, cw_microphone_picture, GTK_TYPE_WIDGET)

typedef enum { FROM_ABOVE, FROM_THE_SIDE } View;

static void set_colour(cairo_t *cr, CwColour colour, double alpha)
{
  cairo_set_source_rgba(cr, colour.red, colour.green, colour.blue, alpha);
}

/* Centimetres in a view, right and down of the head's middle. From above the car's front is up; from the side
 * it is at the left. */
static void project(const CwPositionPlace *place, View view, double *x, double *y)
{
  *x = view == FROM_ABOVE ? place->right_cm : -place->forward_cm;
  *y = view == FROM_ABOVE ? -place->forward_cm : -place->up_cm;
}

static void draw_seat(cairo_t *cr, View view, CwColour ink)
{
  if (view == FROM_ABOVE)
    cw_plan_path_rounded(cr, -24, 5, 48, 11, 5);
  else
    cw_plan_path_rounded(cr, 11, -6, 9, 28, 4);
  set_colour(cr, ink, 0.1);
  cairo_fill(cr);
}

static void draw_head(cairo_t *cr, View view, CwColour ink)
{
  cairo_new_path(cr);
  if (view == FROM_ABOVE) {
    cairo_move_to(cr, -2, -HEAD_CM + 0.6);
    cairo_line_to(cr, 0, -HEAD_CM - 2.4);
    cairo_line_to(cr, 2, -HEAD_CM + 0.6);
    cairo_close_path(cr);
    cairo_rectangle(cr, -HEAD_CM - 0.9, -1.8, 1.6, 3.6);
    cairo_rectangle(cr, HEAD_CM - 0.7, -1.8, 1.6, 3.6);
  } else {
    cairo_move_to(cr, -HEAD_CM + 0.6, -1.2);
    cairo_line_to(cr, -HEAD_CM - 2.4, 2.4);
    cairo_line_to(cr, -HEAD_CM + 1, 3);
    cairo_close_path(cr);
    cairo_rectangle(cr, -3.5, HEAD_CM - 2, 8, 13);
  }
  set_colour(cr, ink, 0.3);
  cairo_fill(cr);
  cairo_arc(cr, 0, 0, HEAD_CM, 0, 2 * G_PI);
  cairo_fill(cr);
  if (view == FROM_THE_SIDE) {
    cairo_save(cr);
    cairo_scale(cr, 1, 1.6);
    cairo_arc(cr, 1, 0, 1.4, 0, 2 * G_PI);
    cairo_restore(cr);
    cairo_fill(cr);
  }
}

static void draw_marks(cairo_t *cr, View view, CwColour ink, gint64 chosen)
{
  double x, y;
  for (gint64 number = 1; number <= CW_POSITION_PLACES; number++) {
    project(cw_job_position_place(number), view, &x, &y);
    cairo_new_path(cr);
    cairo_arc(cr, x, y, 0.6, 0, 2 * G_PI);
    set_colour(cr, ink, 0.6);
    cairo_fill(cr);
  }
  if (!cw_job_position_place(chosen))
    return;
  project(cw_job_position_place(chosen), view, &x, &y);
  cairo_new_path(cr);
  cairo_arc(cr, x, y, MARK_CM, 0, 2 * G_PI);
  set_colour(cr, cw_colour_orange, 1);
  cairo_fill_preserve(cr);
  set_colour(cr, ink, 0.9);
  cairo_set_line_width(cr, 0.5);
  cairo_stroke(cr);
}

static void draw_view(cairo_t *cr, View view, const CwPlanLook *look, gint64 chosen, double left)
{
  double em = look->text_size, middle = left + VIEW_WIDTH / 2.0;
  cw_plan_draw_text(cr, look, view == FROM_ABOVE ? _("From above") : _("From the left"), middle, 0.7 * em,
                    0.5, 0);
  cairo_save(cr);
  cairo_translate(cr, middle, 1.4 * em + (HEIGHT - 1.4 * em) * 0.46);
  cairo_scale(cr, PIXELS_PER_CM, PIXELS_PER_CM);
  draw_seat(cr, view, look->ink);
  draw_head(cr, view, look->ink);
  draw_marks(cr, view, look->ink, chosen);
  cairo_restore(cr);
}

static void picture_snapshot(GtkWidget *widget, GtkSnapshot *snapshot)
{
  CwMicrophonePicture *picture = CW_MICROPHONE_PICTURE(widget);
  gint64 number = cw_job_position_number(picture->position);
  const CwPositionPlace *place = cw_job_position_place(number);
  float width = (float)gtk_widget_get_width(widget), height = (float)gtk_widget_get_height(widget);
  GdkRGBA ink;
  gtk_style_context_get_color(gtk_widget_get_style_context(widget), &ink);
  CwPlanLook look = {.ink = {ink.red, ink.green, ink.blue}, .text_size = TEXT_SIZE};
  cairo_t *cr = gtk_snapshot_append_cairo(snapshot, &GRAPHENE_RECT_INIT(0, 0, width, height));
  draw_view(cr, FROM_ABOVE, &look, number, 0);
  draw_view(cr, FROM_THE_SIDE, &look, number, VIEW_WIDTH);
  if (picture->position) {
    g_autofree char *words = g_strdup_printf(
        _("%s: microphone\n%s."), picture->position,
        place ? _(place->where)
              : _("at a place of your choice within 12 cm of the middle of the head, unlike the others"));
    cw_plan_draw_text(cr, &look, words, 2 * VIEW_WIDTH + 6, HEIGHT * 0.46, 0,
                      MAX(width - 2 * VIEW_WIDTH - 10, 40));
  }
  cairo_destroy(cr);
}

static void picture_measure(GtkWidget *widget, GtkOrientation orientation, int for_size, int *least,
                            int *natural, int *least_base, int *natural_base)
{
  *least = *natural = orientation == GTK_ORIENTATION_VERTICAL ? HEIGHT : 2 * VIEW_WIDTH + 150;
}

static void picture_finalize(GObject *object)
{
  g_free(CW_MICROPHONE_PICTURE(object)->position);
  G_OBJECT_CLASS(cw_microphone_picture_parent_class)->finalize(object);
}

static void cw_microphone_picture_class_init(CwMicrophonePictureClass *klass)
{
  GtkWidgetClass *widget_class = GTK_WIDGET_CLASS(klass);
  G_OBJECT_CLASS(klass)->finalize = picture_finalize;
  widget_class->snapshot = picture_snapshot;
  widget_class->measure = picture_measure;
  gtk_widget_class_set_accessible_role(widget_class, GTK_ACCESSIBLE_ROLE_IMG);
  gtk_widget_class_set_css_name(widget_class, "microphone");
}

static void cw_microphone_picture_init(CwMicrophonePicture *picture)
{
}

GtkWidget *cw_microphone_picture_new(void)
{
  GtkWidget *picture = g_object_new(CW_TYPE_MICROPHONE_PICTURE, NULL);
  cw_set_name(picture, _("Where to hold the microphone"));
  cw_read_from_left(picture);
  return picture;
}

void cw_microphone_picture_show(CwMicrophonePicture *picture, const char *position)
{
  const CwPositionPlace *place = cw_job_position_place(cw_job_position_number(position));
  if (g_strcmp0(position, picture->position) == 0)
    return;
  g_free(picture->position);
  picture->position = g_strdup(position);
  g_autofree char *words = g_strdup_printf(
      "%s: %s", position ? position : "",
      place ? _(place->where)
            : _("at a place of your choice within 12 cm of the middle of the head, unlike the others"));
  gtk_accessible_update_property(GTK_ACCESSIBLE(picture), GTK_ACCESSIBLE_PROPERTY_DESCRIPTION, words, -1);
  gtk_widget_queue_draw(GTK_WIDGET(picture));
}
