/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/map/map_layout.h"

#include "job/map/wiring.h"

#include <math.h>

/* Without a survey, and with the radio's leads at the left. */
static const CwMapColumn layouts[2][CW_MAP_COLUMNS] = {
    {{0, 0}, {0.0, 0.08}, {0.2, 0.31}, {0.4, 0.68}, {0.76, 1.0}},
    {{0.0, 0.09}, {0.145, 0.22}, {0.31, 0.41}, {0.46, 0.72}, {0.77, 1.0}}};

CwRecord *cw_map_survey(CwRecord *vehicle)
{
  CwRecord *survey = cw_vehicle_get_survey(vehicle);
  return survey && cw_list_get_length(cw_survey_get_leads(survey)) ? survey : NULL;
}

const CwMapColumn *cw_map_columns(CwRecord *vehicle)
{
  return layouts[cw_map_survey(vehicle) != NULL];
}

guint cw_map_row_count(CwRecord *vehicle)
{
  CwRecord *survey = cw_map_survey(vehicle);
  guint leads = survey ? cw_list_get_length(cw_survey_get_leads(survey)) : 0;
  g_autoptr(GPtrArray) channels = cw_map_channels(vehicle);
  return MAX(channels->len, leads);
}

double cw_map_input_row(CwRecord *vehicle, int side)
{
  guint rows = MAX(cw_list_get_length(cw_vehicle_get_speakers(vehicle)), 3);
  return rows / 2.0 + (side == CW_SIDE_LEFT ? -1.5 : 0.5);
}

double cw_map_row_y(double row)
{
  return CW_MAP_TOP + CW_MAP_ROW * (row + 0.5);
}

int cw_map_row_at(double y)
{
  return y < CW_MAP_TOP ? -1 : (int)floor((y - CW_MAP_TOP) / CW_MAP_ROW);
}

GPtrArray *cw_map_channels(CwRecord *vehicle)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  g_autoptr(GPtrArray) all = cw_job_channels(vehicle);
  GPtrArray *rows = g_ptr_array_new();
  for (guint i = 0; i < cw_list_get_length(speakers); i++)
    g_ptr_array_add(rows, cw_job_find_channel(vehicle, cw_speaker_get_output(cw_list_get(speakers, i))));
  for (guint i = 0; i < all->len; i++)
    if (!g_ptr_array_find(rows, g_ptr_array_index(all, i), NULL))
      g_ptr_array_add(rows, g_ptr_array_index(all, i));
  return rows;
}

gint64 cw_map_output_at(CwRecord *vehicle, int row)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  return row >= 0 && row < (int)cw_list_get_length(speakers)
             ? cw_speaker_get_output(cw_list_get(speakers, (guint)row))
             : CW_NO_INTEGER;
}
