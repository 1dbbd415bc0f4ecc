/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/plan/plan_draw.h"

#include "window/plan/plan_leads.h"
#include "window/state/length.h"
#include "window/state/words.h"

#include <glib/gi18n-lib.h>
#include <math.h>
#include <pango/pangocairo.h>

#define LABEL_EMS_MOST 11.5
#define LABEL_EMS_DISTANCES 10.2 /* narrower, distances are left out: the names go first */
#define LABEL_GAP_EMS 0.5
#define DESIGNED_SCALE 1.2 /* pixels a centimetre at which speakers have their drawn size */
#define HEAD_CM 9

/* The room for names at each side. */
static double label_room(double width, double text_size)
{
  return fmin(LABEL_EMS_MOST * text_size, 0.3 * width);
}

CwPlanScale cw_plan_scale(CwRecord *vehicle, double width, double height, double text_size)
{
  CwRecord *cabin = cw_vehicle_get_cabin(vehicle);
  CwPlanScale scale = {.length_cm = cw_cabin_get_length_cm(cabin), .width_cm = cw_cabin_get_width_cm(cabin)};
  double across = fmax(width - 2 * label_room(width, text_size), 40),
         along = fmax(height - 5 * text_size, 40);
  scale.scale = fmin(across / scale.width_cm, along / scale.length_cm);
  scale.left = (width - scale.scale * scale.width_cm) / 2;
  scale.top = 2.5 * text_size + (along - scale.scale * scale.length_cm) / 2;
  return scale;
}

void cw_plan_to_pixels(const CwPlanScale *scale, CwPlace place, double *x, double *y)
{
  *x = scale->left + scale->scale * place.y_cm;
  *y = scale->top + scale->scale * place.x_cm;
}

CwPlace cw_plan_from_pixels(const CwPlanScale *scale, double x, double y, double z_cm)
{
  return (CwPlace){CLAMP((y - scale->top) / scale->scale, 0, scale->length_cm),
                   CLAMP((x - scale->left) / scale->scale, 0, scale->width_cm), z_cm, TRUE};
}

double cw_plan_speaker_radius(const CwPlanScale *scale, CwRecord *speaker)
{
  static const double radius[] = {
      [CW_WAY_HIGH] = 7, [CW_WAY_MID] = 9, [CW_WAY_LOW] = 12, [CW_WAY_FULL] = 11, [CW_WAY_SUB] = 15};
  return radius[cw_speaker_get_way(speaker)] * CLAMP(scale->scale / DESIGNED_SCALE, 0.55, 1);
}

static void set_colour(cairo_t *cr, CwColour colour, double alpha)
{
  cairo_set_source_rgba(cr, colour.red, colour.green, colour.blue, alpha);
}

static PangoLayout *new_layout(cairo_t *cr, const CwPlanLook *look, const char *text, double align,
                               double width_most)
{
  PangoLayout *layout = pango_cairo_create_layout(cr);
  g_autoptr(PangoFontDescription) font = pango_font_description_from_string("Sans");
  pango_font_description_set_absolute_size(font, look->text_size * PANGO_SCALE);
  pango_layout_set_font_description(layout, font);
  pango_layout_set_text(layout, text, -1);
  pango_layout_set_alignment(layout, align > 0.7   ? PANGO_ALIGN_RIGHT
                                     : align > 0.3 ? PANGO_ALIGN_CENTER
                                                   : PANGO_ALIGN_LEFT);
  if (width_most > 0) {
    pango_layout_set_width(layout, (int)(width_most * PANGO_SCALE));
    pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
  }
  return layout;
}

/* Text beside a point: its left edge there with align 0, its middle with 0.5, its right edge with 1; wrapped
 * at width_most, 0 for never. */
void cw_plan_draw_text(cairo_t *cr, const CwPlanLook *look, const char *text, double x, double y,
                       double align, double width_most)
{
  g_autoptr(PangoLayout) layout = new_layout(cr, look, text, align, width_most);
  int width, height;
  pango_layout_get_pixel_size(layout, &width, &height);
  set_colour(cr, look->ink, 0.9);
  cairo_move_to(cr, x - align * (width_most > 0 ? width_most : width), y - height / 2.0);
  pango_cairo_show_layout(cr, layout);
}

void cw_plan_path_rounded(cairo_t *cr, double x, double y, double width, double height, double radius)
{
  cairo_new_sub_path(cr);
  cairo_arc(cr, x + width - radius, y + radius, radius, -G_PI / 2, 0);
  cairo_arc(cr, x + width - radius, y + height - radius, radius, 0, G_PI / 2);
  cairo_arc(cr, x + radius, y + height - radius, radius, G_PI / 2, G_PI);
  cairo_arc(cr, x + radius, y + radius, radius, G_PI, 3 * G_PI / 2);
  cairo_close_path(cr);
}

static void draw_cabin(cairo_t *cr, const CwPlanScale *scale, const CwPlanLook *look)
{
  double width = scale->scale * scale->width_cm, height = scale->scale * scale->length_cm;
  cw_plan_path_rounded(cr, scale->left, scale->top, width, height, fmin(width, height) / 7);
  set_colour(cr, look->ink, 0.05);
  cairo_fill_preserve(cr);
  set_colour(cr, look->ink, 0.45);
  cairo_set_line_width(cr, 2);
  cairo_stroke(cr);
  cairo_move_to(cr, scale->left + 0.12 * width, scale->top + 0.11 * height);
  cairo_curve_to(cr, scale->left + 0.35 * width, scale->top + 0.07 * height, scale->left + 0.65 * width,
                 scale->top + 0.07 * height, scale->left + 0.88 * width, scale->top + 0.11 * height);
  set_colour(cr, look->ink, 0.25);
  cairo_stroke(cr);
  cw_plan_draw_text(cr, look, _("Front"), scale->left + width / 2, scale->top - 1.1 * look->text_size, 0.5,
                    0);
  cw_plan_draw_text(cr, look, _("Rear"), scale->left + width / 2, scale->top + height + 1.1 * look->text_size,
                    0.5, 0);
}

static void draw_wheel(cairo_t *cr, const CwPlanScale *scale, CwRecord *vehicle, const CwPlanLook *look)
{
  gboolean right = cw_vehicle_get_driver_side(vehicle) == CW_DRIVER_SIDE_RIGHT;
  double x = scale->left + scale->scale * scale->width_cm * (right ? 0.74 : 0.26);
  double y = scale->top + 0.21 * scale->scale * scale->length_cm;
  cairo_new_path(cr);
  cairo_save(cr);
  cairo_translate(cr, x, y);
  cairo_scale(cr, 1, 0.45);
  cairo_arc(cr, 0, 0, 0.13 * scale->scale * scale->width_cm, 0, 2 * G_PI);
  cairo_restore(cr);
  set_colour(cr, look->ink, 0.5);
  cairo_set_line_width(cr, 2.5);
  cairo_stroke(cr);
}

static void draw_seat(cairo_t *cr, const CwPlanScale *scale, CwRecord *vehicle, const char *seat,
                      const CwPlanLook *look)
{
  CwPlace place = cw_place_of_head(vehicle, seat);
  double x, y, unit = scale->scale;
  gboolean chosen = g_strcmp0(seat, look->chosen_seat) == 0;
  cw_plan_to_pixels(scale, place, &x, &y);
  cw_plan_path_rounded(cr, x - 24 * unit, y - 38 * unit, 48 * unit, 50 * unit, 9 * unit);
  set_colour(cr, look->ink, chosen ? 0.16 : 0.08);
  cairo_fill(cr);
  cairo_new_path(cr);
  cairo_arc(cr, x, y, HEAD_CM * unit, 0, 2 * G_PI);
  set_colour(cr, look->ink, place.known ? 0.6 : 0.3);
  cairo_fill_preserve(cr);
  if (chosen || g_strcmp0(seat, look->focus_seat) == 0) {
    set_colour(cr, cw_colour_orange, 1);
    cairo_set_line_width(cr, 3);
    cairo_stroke(cr);
  }
  cairo_new_path(cr);
  cw_plan_draw_text(cr, look, seat, x, y + fmax(20 * unit, HEAD_CM * unit + look->text_size), 0.5, 0);
}

static void path_speaker(cairo_t *cr, CwRecord *speaker, double x, double y, double radius)
{
  cairo_new_path(cr);
  if (cw_speaker_get_way(speaker) == CW_WAY_SUB)
    cw_plan_path_rounded(cr, x - radius, y - radius, 2 * radius, 2 * radius, radius / 3);
  else
    cairo_arc(cr, x, y, radius, 0, 2 * G_PI);
}

static void draw_waves(cairo_t *cr, double x, double y, double radius)
{
  set_colour(cr, cw_colour_orange, 1);
  cairo_set_line_width(cr, 3);
  for (int wave = 1; wave <= 2; wave++) {
    cairo_new_path(cr);
    cairo_arc(cr, x, y, radius + 5.0 * wave, 0, 2 * G_PI);
    cairo_stroke(cr);
  }
}

static void draw_speaker(cairo_t *cr, const CwPlanScale *scale, CwRecord *vehicle, CwRecord *speaker,
                         const CwPlanLook *look)
{
  CwPlace place = cw_place_of_speaker(vehicle, speaker);
  double x, y, radius = cw_plan_speaker_radius(scale, speaker);
  gint64 output = cw_speaker_get_output(speaker);
  cw_plan_to_pixels(scale, place, &x, &y);
  path_speaker(cr, speaker, x, y, radius);
  set_colour(cr, cw_speaker_colour(speaker), place.known ? 1 : 0.55);
  cairo_fill_preserve(cr);
  set_colour(cr, look->ink, 0.8);
  cairo_set_line_width(cr, output == look->chosen_output ? 3.5 : 1);
  cairo_stroke(cr);
  if (cw_speaker_get_way(speaker) == CW_WAY_FULL) {
    cairo_new_path(cr);
    cairo_arc(cr, x, y, radius / 3, 0, 2 * G_PI);
    cairo_fill(cr);
  }
  if (output == look->playing_output)
    draw_waves(cr, x, y, radius);
}

typedef struct {
  char *text;
  double x, y, at_y, height;
  int side; /* -1 left, 0 below, 1 right */
} Label;

static void label_clear(gpointer data)
{
  g_free(((Label *)data)->text);
}

static Label new_label(const CwPlanScale *scale, CwRecord *vehicle, CwRecord *speaker, const CwPlanLook *look,
                       gboolean distances)
{
  Label label = {0};
  gboolean measured;
  CwPlace place = cw_place_of_speaker(vehicle, speaker);
  double distance = cw_speaker_distance_cm(vehicle, speaker, look->chosen_seat, &measured);
  g_autofree char *name = cw_say_speaker(speaker), *length = cw_length_say(distance);
  cw_plan_to_pixels(scale, place, &label.x, &label.at_y);
  label.y = label.at_y;
  label.side = place.y_cm < 0.4 * scale->width_cm ? -1 : place.y_cm > 0.6 * scale->width_cm ? 1 : 0;
  if (distances && isfinite(distance) && measured)
    label.text = g_strdup_printf("%d %s\n%s", (int)cw_speaker_get_output(speaker), name, length);
  else if (distances && isfinite(distance))
    label.text = g_strdup_printf(_("%d %s\nabout %s"), (int)cw_speaker_get_output(speaker), name, length);
  else
    label.text = g_strdup_printf("%d %s", (int)cw_speaker_get_output(speaker), name);
  return label;
}

static gint compare_labels(gconstpointer a, gconstpointer b)
{
  const Label *one = a, *other = b;
  return one->side != other->side ? one->side - other->side : (one->y > other->y) - (one->y < other->y);
}

/* The names beside the cabin, with a line to each speaker. */
static void draw_labels(cairo_t *cr, const CwPlanScale *scale, CwRecord *vehicle, const CwPlanLook *look,
                        double width)
{
  g_autoptr(GArray) labels = g_array_new(FALSE, FALSE, sizeof(Label));
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  double em = look->text_size, room = label_room(width, em) - 1.5 * em,
         right = scale->left + scale->scale * scale->width_cm;
  g_array_set_clear_func(labels, label_clear);
  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    Label label = new_label(scale, vehicle, cw_list_get(speakers, i), look,
                            room >= LABEL_EMS_DISTANCES * em - 1.5 * em);
    g_autoptr(PangoLayout) layout = new_layout(cr, look, label.text, 0, label.side ? room : 0);
    int height;
    pango_layout_get_pixel_size(layout, NULL, &height);
    label.height = height;
    g_array_append_val(labels, label);
  }
  g_array_sort(labels, compare_labels);
  for (guint i = 0; i < labels->len; i++) {
    Label *label = &g_array_index(labels, Label, i), *before = i ? label - 1 : NULL;
    if (before && before->side == label->side && label->side)
      label->y = fmax(label->y, before->y + (before->height + label->height) / 2 + LABEL_GAP_EMS * em);
    if (!label->side) {
      gboolean room_below = label->y + 5 * em < scale->top + scale->scale * scale->length_cm;
      cw_plan_draw_text(cr, look, label->text, label->x, label->y + (room_below ? 3.2 : -3.2) * em, 0.5, 0);
      continue;
    }
    double edge = label->side < 0 ? scale->left - 0.7 * em : right + 0.7 * em;
    set_colour(cr, look->ink, 0.25);
    cairo_set_line_width(cr, 1);
    cairo_move_to(cr, edge, label->y);
    cairo_line_to(cr, label->x, label->at_y);
    cairo_stroke(cr);
    cw_plan_draw_text(cr, look, label->text, edge + label->side * 0.3 * em, label->y, label->side < 0 ? 1 : 0,
                      room);
  }
}

void cw_plan_draw(cairo_t *cr, CwRecord *vehicle, const CwPlanLook *look, double width, double height)
{
  CwPlanScale scale = cw_plan_scale(vehicle, width, height, look->text_size);
  const char *const *seats = cw_vehicle_get_seats(vehicle);
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  draw_cabin(cr, &scale, look);
  draw_wheel(cr, &scale, vehicle, look);
  for (guint i = 0; seats && seats[i]; i++)
    draw_seat(cr, &scale, vehicle, seats[i], look);
  if (!look->leads)
    draw_labels(cr, &scale, vehicle, look, width);
  for (guint i = 0; i < cw_list_get_length(speakers); i++)
    draw_speaker(cr, &scale, vehicle, cw_list_get(speakers, i), look);
  if (look->leads)
    cw_plan_draw_leads(cr, vehicle, look, &scale);
}
