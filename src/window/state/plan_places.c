/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/state/plan_places.h"

#include <math.h>
#include <string.h>

static gboolean read_place(CwRecord *record, CwPlace *place)
{
  *place =
      (CwPlace){cw_placed_get_x_cm(record), cw_placed_get_y_cm(record), cw_placed_get_z_cm(record), TRUE};
  return isfinite(place->x_cm) && isfinite(place->y_cm);
}

/* Is the name of a speaker one of the rear? Names are free; this only helps a first drawing. */
static gboolean sounds_rear(CwRecord *speaker)
{
  g_autofree char *name = g_utf8_casefold(cw_speaker_get_name(speaker), -1);
  return strstr(name, "rear") != NULL || strstr(name, "back") != NULL;
}

/* Where such a speaker usually is: parts of the cabin's length and width from the front and the left. */
static CwPlace supposed_place(CwRecord *vehicle, CwRecord *speaker)
{
  static const double from_front[] = {[CW_WAY_HIGH] = 0.11,
                                      [CW_WAY_MID] = 0.17,
                                      [CW_WAY_LOW] = 0.27,
                                      [CW_WAY_FULL] = 0.22,
                                      [CW_WAY_SUB] = 0.91};
  int way = cw_speaker_get_way(speaker), side = cw_speaker_get_side(speaker);
  double across = way == CW_WAY_HIGH ? 0.1 : 0.04;
  double length = sounds_rear(speaker) ? from_front[way] + 0.42 : from_front[way];
  double width = side == CW_SIDE_LEFT ? across : side == CW_SIDE_RIGHT ? 1 - across : 0.5;
  return (CwPlace){fmin(length, 0.93) * cw_cabin_get_length_cm(cw_vehicle_get_cabin(vehicle)),
                   width * cw_cabin_get_width_cm(cw_vehicle_get_cabin(vehicle)), 50, FALSE};
}

CwPlace cw_place_of_speaker(CwRecord *vehicle, CwRecord *speaker)
{
  CwPlace place;
  return read_place(speaker, &place) ? place : supposed_place(vehicle, speaker);
}

CwPlace cw_place_of_head(CwRecord *vehicle, const char *seat)
{
  CwRecord *head = cw_list_find_text_at(cw_vehicle_get_heads(vehicle), CW_HEAD_FIELD_SEAT, seat);
  CwPlace place;
  if (head && read_place(head, &place))
    return place;
  const char *const *seats = cw_vehicle_get_seats(vehicle);
  guint index = 0;
  while (seats[index] && !g_str_equal(seats[index], seat))
    index++;
  gboolean driver = g_str_equal(seat, "driver") || (index % 2 == 0 && !g_str_equal(seat, "passenger"));
  gboolean right = (cw_vehicle_get_driver_side(vehicle) == CW_DRIVER_SIDE_RIGHT) == driver;
  double row = index < 2 ? 0.43 : 0.7;
  return (CwPlace){row * cw_cabin_get_length_cm(cw_vehicle_get_cabin(vehicle)),
                   (right ? 0.74 : 0.26) * cw_cabin_get_width_cm(cw_vehicle_get_cabin(vehicle)), 95, FALSE};
}

void cw_place_set(CwRecord *record, CwPlace place)
{
  cw_placed_set_x_cm(record, round(place.x_cm));
  cw_placed_set_y_cm(record, round(place.y_cm));
  if (isfinite(place.z_cm))
    cw_placed_set_z_cm(record, round(place.z_cm));
}

CwRecord *cw_place_make_head(CwRecord *vehicle, const char *seat)
{
  CwList *heads = cw_vehicle_get_heads(vehicle);
  CwRecord *head = cw_list_find_text_at(heads, CW_HEAD_FIELD_SEAT, seat);
  if (head)
    return head;
  g_autoptr(CwRecord) made = cw_record_new(cw_head_get_type());
  cw_head_set_seat(made, seat);
  cw_list_append(heads, made);
  return cw_list_get(heads, cw_list_get_length(heads) - 1);
}

double cw_place_distance_cm(CwPlace one, CwPlace other)
{
  double z = isfinite(one.z_cm) && isfinite(other.z_cm) ? one.z_cm - other.z_cm : 0;
  return sqrt(pow(one.x_cm - other.x_cm, 2) + pow(one.y_cm - other.y_cm, 2) + z * z);
}

double cw_speaker_distance_cm(CwRecord *vehicle, CwRecord *speaker, const char *seat, gboolean *measured)
{
  const CwNumbers *named = cw_speaker_get_distance_cm(speaker);
  double taped = named ? cw_numbers_named(named, seat) : (double)NAN;
  *measured = isfinite(taped);
  if (*measured)
    return taped;
  CwPlace one = cw_place_of_speaker(vehicle, speaker), other = cw_place_of_head(vehicle, seat);
  return one.known && other.known ? cw_place_distance_cm(one, other) : (double)NAN;
}
