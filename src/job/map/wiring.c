/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/map/wiring.h"

#include "job/map/checked_by_hand.h"

GPtrArray *cw_job_channels(CwRecord *vehicle)
{
  CwList *amplifiers = cw_vehicle_get_amplifiers(vehicle);
  GPtrArray *all = g_ptr_array_new();
  for (guint a = 0; a < cw_list_get_length(amplifiers); a++) {
    CwList *channels = cw_amplifier_get_channels(cw_list_get(amplifiers, a));
    for (guint c = 0; c < cw_list_get_length(channels); c++)
      g_ptr_array_add(all, cw_list_get(channels, c));
  }
  return all;
}

static gboolean feeds(CwRecord *channel, gint64 output)
{
  return cw_numbers_contain(cw_amplifier_channel_get_outputs(channel), (double)output);
}

CwRecord *cw_job_find_channel(CwRecord *vehicle, gint64 output)
{
  g_autoptr(GPtrArray) channels = cw_job_channels(vehicle);
  for (guint i = 0; i < channels->len; i++)
    if (feeds(g_ptr_array_index(channels, i), output))
      return g_ptr_array_index(channels, i);
  return NULL;
}

char *cw_job_say_channel(CwRecord *channel)
{
  const char *name = cw_amplifier_get_name(cw_record_get_parent(channel));
  gint64 number = cw_amplifier_channel_get_channel(channel),
         bridged = cw_amplifier_channel_get_bridged_with(channel);
  return bridged == CW_NO_INTEGER ? g_strdup_printf("%s %d", name, (int)number)
                                  : g_strdup_printf("%s %d + %d", name, (int)number, (int)bridged);
}

/* The channel's outputs with `old` left out (0: none is) and `new` put in its place or at the end (0: none
 * is). */
static void change_outputs(CwRecord *channel, gint64 old, gint64 new)
{
  const CwNumbers *outputs = cw_amplifier_channel_get_outputs(channel);
  g_autofree double *values = g_new(double, outputs->n_rows + 1);
  guint count = 0;
  gboolean placed = new == 0;
  for (guint i = 0; i < outputs->n_rows; i++) {
    double value = outputs->values[i];
    if (value == (double)old && !placed) {
      values[count++] = (double)new;
      placed = TRUE;
    } else if (value != (double)old && value != (double)new) {
      values[count++] = value;
    }
  }
  if (!placed)
    values[count++] = (double)new;
  cw_amplifier_channel_take_outputs(channel, cw_numbers_new(count, 1, values));
}

static void forget_proof(CwRecord *vehicle, gint64 output)
{
  if (cw_job_find_map_proof(vehicle, output))
    cw_job_set_proven(vehicle, output, FALSE);
}

gboolean cw_job_wire(CwRecord *vehicle, gint64 output, CwRecord *channel)
{
  CwRecord *from = cw_job_find_channel(vehicle, output);
  if (from == channel)
    return FALSE;
  const CwNumbers *there = channel ? cw_amplifier_channel_get_outputs(channel) : NULL;
  gint64 other = from && there && there->n_rows ? (gint64)there->values[0] : 0;
  if (from)
    change_outputs(from, output, other);
  if (channel)
    change_outputs(channel, other, output);
  forget_proof(vehicle, output);
  if (other)
    forget_proof(vehicle, other);
  return TRUE;
}
