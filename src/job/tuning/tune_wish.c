/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/tuning/tune_wish.h"
#include "job/tuning/tune_record.h"
#include <glib/gi18n-lib.h>

static const struct {
  const char *one, *all; /* of one output; of all of them */
  guint parts;
} words[] = {{"gain", "levels", CW_TUNE_GAIN},           {"delay", "delays", CW_TUNE_DELAY},
             {"polarity", "polarity", CW_TUNE_POLARITY}, {"high-pass", NULL, CW_TUNE_HIGH_PASS},
             {"low-pass", NULL, CW_TUNE_LOW_PASS},       {"crossover", "crossovers", CW_TUNE_CROSSOVER},
             {"filters", "filters", CW_TUNE_FILTERS},    {"all", NULL, CW_TUNE_ALL}};

void cw_tune_wish_clear(CwTuneWish *wish)
{
  g_clear_pointer(&wish->outputs, g_array_unref);
  g_clear_pointer(&wish->holds, g_array_unref);
}

guint cw_tune_part_of_word(const char *word)
{
  for (gsize i = 0; i < G_N_ELEMENTS(words); i++)
    if (g_strcmp0(word, words[i].one) == 0)
      return words[i].parts;
  return 0;
}

gboolean cw_tune_wish_read_only(CwTuneWish *wish, const char *text, GError **error)
{
  g_auto(GStrv) list = g_strsplit(text, ",", -1);
  guint only = 0;

  for (guint k = 0; list[k]; k++) {
    guint parts = 0;
    for (gsize i = 0; i < G_N_ELEMENTS(words); i++)
      if (g_strcmp0(g_strstrip(list[k]), words[i].all) == 0)
        parts = words[i].parts;
    if (!parts)
      return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE,
                           _("“%s”: levels, delays, polarity, crossovers or filters was expected"), list[k]);
    only |= parts;
  }
  wish->only = only;
  return TRUE;
}

static gboolean read_number(const char *text, gint64 *number)
{
  return g_ascii_string_to_signed(text, 10, 1, 64, number, NULL);
}

gboolean cw_tune_wish_read_outputs(CwTuneWish *wish, const char *text, GError **error)
{
  g_auto(GStrv) list = g_strsplit(text, ",", -1);
  g_autoptr(GArray) outputs = g_array_new(FALSE, FALSE, sizeof(gint64));

  for (guint k = 0; list[k]; k++) {
    gint64 number;
    if (!read_number(g_strstrip(list[k]), &number))
      return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, _("“%s”: the number of an output was expected"),
                           list[k]);
    g_array_append_val(outputs, number);
  }
  g_clear_pointer(&wish->outputs, g_array_unref);
  wish->outputs = g_steal_pointer(&outputs);
  return TRUE;
}

gboolean cw_tune_wish_read_holds(CwTuneWish *wish, const char *text, GError **error)
{
  g_auto(GStrv) list = g_strsplit(text, ",", -1);
  g_autoptr(GArray) holds = g_array_new(FALSE, FALSE, sizeof(CwTuneHold));

  for (guint k = 0; list[k]; k++) {
    g_auto(GStrv) pair = g_strsplit(g_strstrip(list[k]), ":", 2);
    CwTuneHold hold;
    if (!pair[0] || !pair[1] || !read_number(pair[0], &hold.output) ||
        !(hold.parts = cw_tune_part_of_word(pair[1])))
      return cw_job_refuse(
          error, CW_JOB_ERROR_VEHICLE,
          _("“%s”: an output and what to hold of it was expected, as in 2:crossover: gain, delay, "
            "polarity, crossover, high-pass, low-pass, filters or all"),
          list[k]);
    g_array_append_val(holds, hold);
  }
  g_clear_pointer(&wish->holds, g_array_unref);
  wish->holds = g_steal_pointer(&holds);
  return TRUE;
}

guint cw_tune_locked_parts(CwRecord *tune_output)
{
  const char *const *held = cw_tune_output_get_held(tune_output);
  guint parts = 0;

  for (guint i = 0; held && held[i]; i++)
    parts |= cw_tune_part_of_word(held[i]);
  return parts;
}

void cw_tune_lock_parts(CwRecord *tune_output, guint parts, gboolean locked)
{
  g_autoptr(GPtrArray) held = g_ptr_array_new();
  guint all = locked ? cw_tune_locked_parts(tune_output) | parts : cw_tune_locked_parts(tune_output) & ~parts;

  for (gsize i = 0; i < G_N_ELEMENTS(words); i++)
    if (words[i].parts != CW_TUNE_ALL && words[i].parts != CW_TUNE_CROSSOVER && (all & words[i].parts))
      g_ptr_array_add(held, (gpointer)words[i].one);
  g_ptr_array_add(held, NULL);
  cw_tune_output_set_held(tune_output, (const char *const *)held->pdata);
}

static gboolean holds_output(const GArray *outputs, gint64 number)
{
  for (guint i = 0; outputs && i < outputs->len; i++)
    if (g_array_index(outputs, gint64, i) == number)
      return TRUE;
  return FALSE;
}

/* What the wish says about an output, without the locks. */
static guint wished_parts(const CwTuneWish *wish, gint64 number)
{
  guint parts = 0;

  if (!wish)
    return 0;
  if (wish->only)
    parts |= CW_TUNE_ALL & ~wish->only;
  if (wish->outputs && !holds_output(wish->outputs, number))
    parts |= CW_TUNE_ALL;
  for (guint i = 0; wish->holds && i < wish->holds->len; i++)
    if (g_array_index(wish->holds, CwTuneHold, i).output == number)
      parts |= g_array_index(wish->holds, CwTuneHold, i).parts;
  return parts;
}

static unsigned kinds_of(guint parts)
{
  return (parts & CW_TUNE_GAIN ? CW_FIT_GAIN : 0) | (parts & CW_TUNE_DELAY ? CW_FIT_DELAY : 0) |
         (parts & CW_TUNE_POLARITY ? CW_FIT_POLARITY : 0) |
         (parts & CW_TUNE_HIGH_PASS ? CW_FIT_HIGH_PASS : 0) |
         (parts & CW_TUNE_LOW_PASS ? CW_FIT_LOW_PASS : 0) | (parts & CW_TUNE_FILTERS ? CW_FIT_SECTIONS : 0);
}

/* The wish may name outputs that are not there. */
static gboolean check_outputs(const CwTuneWish *wish, CwRecord *vehicle, GError **error)
{
  for (guint i = 0; wish && wish->outputs && i < wish->outputs->len; i++)
    if (!cw_vehicle_find_speaker(vehicle, g_array_index(wish->outputs, gint64, i)))
      return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, _("no speaker is on output %d"),
                           (int)g_array_index(wish->outputs, gint64, i));
  for (guint i = 0; wish && wish->holds && i < wish->holds->len; i++)
    if (!cw_vehicle_find_speaker(vehicle, g_array_index(wish->holds, CwTuneHold, i).output))
      return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, _("no speaker is on output %d"),
                           (int)g_array_index(wish->holds, CwTuneHold, i).output);
  return TRUE;
}

gboolean cw_tune_wish_gather(const CwTuneWish *wish, CwRecord *vehicle, const CwCar *car, double rate_hz,
                             CwProposalHold **hold, GError **error)
{
  CwRecord *tune = cw_vehicle_get_tune(vehicle);
  g_autofree CwProposalHold *list = g_new0(CwProposalHold, car->outputs);
  gboolean any = FALSE;

  *hold = NULL;
  if (!check_outputs(wish, vehicle, error))
    return FALSE;
  for (gsize o = 0; o < car->outputs; o++) {
    gint64 number = car->output[o].number;
    CwRecord *output =
        tune ? cw_list_find_integer_at(cw_tune_get_outputs(tune), CW_TUNE_OUTPUT_FIELD_OUTPUT, number) : NULL;
    guint parts = wished_parts(wish, number) | (output ? cw_tune_locked_parts(output) : 0);
    gboolean every_filter = (parts & CW_TUNE_FILTERS) || (wish && wish->keep_filters);
    if (!parts && !every_filter && !output)
      continue;
    if (!output) {
      if (!parts)
        continue;
      return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, _("output %d has no settings yet that could be held"),
                           (int)number);
    }
    if (!cw_job_read_held(output, rate_hz, every_filter, &list[o], error))
      return FALSE;
    list[o].held = kinds_of(parts);
    any |= list[o].held || list[o].fixed;
  }
  if (any)
    *hold = g_steal_pointer(&list);
  return TRUE;
}
