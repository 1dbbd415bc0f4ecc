/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/takes/positions.h"
#include "job/job_error.h"
#include <glib/gi18n-lib.h>
#include <string.h>

char **cw_job_positions(CwRecord *vehicle, const char *seat)
{
  gint64 count = cw_vehicle_get_positions_per_seat(vehicle);
  GStrvBuilder *builder = g_strv_builder_new();

  for (gint64 k = 1; k <= count; k++) {
    g_autofree char *position = g_strdup_printf("%s/%d", seat, (int)k);
    g_strv_builder_add(builder, position);
  }
  char **positions = g_strv_builder_end(builder);
  g_strv_builder_unref(builder);
  return positions;
}

CwRecord *cw_job_find_take(CwRecord *vehicle, gint64 output, const char *position, CwPurpose purpose)
{
  CwList *takes = cw_vehicle_get_takes(vehicle);

  for (guint i = cw_list_get_length(takes); i-- > 0;) {
    CwRecord *take = cw_list_get(takes, i);
    if (cw_take_get_output(take) == output && cw_take_get_accepted(take) &&
        cw_take_get_purpose(take) == purpose && g_str_equal(cw_take_get_position(take), position))
      return take;
  }
  return NULL;
}

/* Not in one line, so that their average tells more than one of them; the ears' own places among them. */
const CwPositionPlace *cw_job_position_place(gint64 number)
{
  static const CwPositionPlace places[CW_POSITION_PLACES] = {
      {0, 0, 0, N_("in the middle of where the head is")},
      {-8.5, 1, 0.5, N_("at the left ear")},
      {8.5, 1, -0.5, N_("at the right ear")},
      {1.5, 10, 2, N_("in front of the eyes, 10 cm before the middle of the head")},
      {-2, -8, 3, N_("at the back of the head, 8 cm behind its middle")},
      {3, -2, 9.5, N_("on the crown, 10 cm above the middle of the head")},
  };
  return number >= 1 && number <= CW_POSITION_PLACES ? &places[number - 1] : NULL;
}

gint64 cw_job_position_number(const char *position)
{
  const char *slash = position ? strrchr(position, '/') : NULL;
  return slash ? g_ascii_strtoll(slash + 1, NULL, 10) : 0;
}

gboolean cw_job_check_position(CwRecord *vehicle, const char *position, GError **error)
{
  const char *const *seats = cw_vehicle_get_seats(vehicle);
  const char *slash = strchr(position, '/');
  g_autofree char *seat = slash ? g_strndup(position, (gsize)(slash - position)) : g_strdup(position);
  gint64 most = cw_vehicle_get_positions_per_seat(vehicle);
  guint64 place = 0;

  if (!slash || !g_ascii_string_to_unsigned(slash + 1, 10, 0, 64, &place, NULL))
    return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE,
                         "position: %s is not of the form SEAT/NUMBER, as in %s/1", position, seats[0]);
  if (!g_strv_contains(seats, seat))
    return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "position: the vehicle has no seat %s", seat);
  if ((gint64)place > most)
    return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "position: %s is beyond the %d positions of a seat",
                         position, (int)most);
  return TRUE;
}
