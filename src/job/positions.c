/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/positions.h"

char **cw_job_positions(CwRecord *vehicle, const char *seat)
{
  gint64 count = cw_record_get_integer(vehicle, "positions_per_seat");
  GStrvBuilder *builder = g_strv_builder_new();

  for (gint64 k = 1; k <= count; k++) {
    g_autofree char *position = g_strdup_printf("%s/%d", seat, (int)k);
    g_strv_builder_add(builder, position);
  }
  char **positions = g_strv_builder_end(builder);
  g_strv_builder_unref(builder);
  return positions;
}

CwRecord *cw_job_find_take(CwRecord *vehicle, gint64 output, const char *position, int purpose)
{
  CwList *takes = cw_record_get_children(vehicle, "takes");

  for (guint i = cw_list_get_length(takes); i-- > 0;) {
    CwRecord *take = cw_list_get(takes, i);
    if (cw_record_get_integer(take, "output") == output && cw_record_get_boolean(take, "accepted") &&
        cw_record_get_choice(take, "purpose") == purpose &&
        g_str_equal(cw_record_get_text(take, "position"), position))
      return take;
  }
  return NULL;
}
