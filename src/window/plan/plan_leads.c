/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/plan/plan_leads.h"

#include "window/state/words.h"

#include <glib/gi18n-lib.h>
#include <pango/pangocairo.h>

#define PLACES 9 /* left, right, both by front, rear, not faded */

static CwList *leads_of(CwRecord *vehicle)
{
  CwRecord *survey = cw_vehicle_get_survey(vehicle);
  return survey ? cw_survey_get_leads(survey) : NULL;
}

/* Which of the places a lead feeds; -1 where that is not known. */
static int place_of(CwRecord *lead)
{
  int side = cw_lead_get_side(lead), end = cw_lead_get_end(lead);
  return side < 0 || end < 0 ? -1 : 3 * end + side;
}

static CwColour colour_of(int side)
{
  return side == CW_SIDE_LEFT ? cw_colour_sky : side == CW_SIDE_RIGHT ? cw_colour_vermilion : cw_colour_green;
}

/* A tag with its middle at x, y. */
static void draw_tag(cairo_t *cr, const CwPlanLook *look, const char *text, double x, double y,
                     CwColour colour)
{
  g_autoptr(PangoLayout) layout = pango_cairo_create_layout(cr);
  g_autoptr(PangoFontDescription) font = pango_font_description_from_string("Sans Bold");
  int width, height;
  pango_font_description_set_absolute_size(font, look->text_size * PANGO_SCALE);
  pango_layout_set_font_description(layout, font);
  pango_layout_set_text(layout, text, -1);
  pango_layout_get_pixel_size(layout, &width, &height);
  double left = x - width / 2.0 - 6, top = y - height / 2.0 - 3;
  cairo_rectangle(cr, left, top, width + 12, height + 6);
  cairo_set_source_rgb(cr, colour.red, colour.green, colour.blue);
  cairo_fill(cr);
  cairo_set_source_rgb(cr, 0.05, 0.05, 0.05);
  cairo_move_to(cr, x - width / 2.0, y - height / 2.0);
  pango_cairo_show_layout(cr, layout);
}

/* Fronts at the dash, rears behind the seats, what is not faded between them; several at one place below each
 * other. */
void cw_plan_draw_leads(cairo_t *cr, CwRecord *vehicle, const CwPlanLook *look, const CwPlanScale *scale)
{
  static const double across[] = {0, 1, 0.5}, along[] = {0.06, 0.68, 0.45};
  CwList *leads = leads_of(vehicle);
  int used[PLACES] = {0};
  for (guint i = 0; leads && i < cw_list_get_length(leads); i++) {
    CwRecord *lead = cw_list_get(leads, i);
    int place = place_of(lead);
    if (place < 0)
      continue;
    int side = place % 3, end = place / 3;
    double x = scale->left + across[side] * scale->scale * scale->width_cm;
    double y =
        scale->top + along[end] * scale->scale * scale->length_cm + 2.1 * look->text_size * used[place]++;
    g_autofree char *text = g_strdup_printf(_("lead %d"), (int)cw_lead_get_lead(lead));
    draw_tag(cr, look, text, x, y, colour_of(side));
  }
}

void cw_plan_describe_leads(CwRecord *vehicle, GString *words)
{
  CwList *leads = leads_of(vehicle);
  for (guint i = 0; leads && i < cw_list_get_length(leads); i++) {
    g_autofree char *place = cw_say_lead_place(cw_list_get(leads, i));
    g_string_append_printf(words, _(" Lead %d: %s."), (int)cw_lead_get_lead(cw_list_get(leads, i)), place);
  }
}
