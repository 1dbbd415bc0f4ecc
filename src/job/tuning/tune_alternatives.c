/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/tuning/tune_alternatives.h"
#include "job/findings/review.h"
#include "job/tuning/tune.h"
#include "job/tuning/tune_record.h"
#include <glib/gi18n-lib.h>
#include <math.h>

#define PREVIOUS "previous"

static const char *const names[] = {[CW_PROPOSAL_CLOSEST] = "closest",
                                    [CW_PROPOSAL_SIMPLEST] = "simplest",
                                    [CW_PROPOSAL_STEADIEST] = "steadiest"};

/* The figures that an alternative shares with its tune, and their names there. */
/* Figures of a tune that an alternative holds too. */
static const CwFieldId shared[] = {CW_TUNE_CHOICE_FIELD_SIDE_DB,    CW_TUNE_CHOICE_FIELD_BOTH_DB,
                                   CW_TUNE_CHOICE_FIELD_MATCH_DB,   CW_TUNE_CHOICE_FIELD_LOSS_DB,
                                   CW_TUNE_CHOICE_FIELD_PLACES_DB,  CW_TUNE_CHOICE_FIELD_HEADROOM_DB,
                                   CW_TUNE_CHOICE_FIELD_ONE_MORE_DB};

const char *cw_tune_choice_name(int choice)
{
  return choice >= 0 && choice < CW_PROPOSAL_CHOICES ? names[choice] : NULL;
}

CwProposalChoice cw_tune_choice_of_name(const char *name)
{
  int choice = 0;
  while (choice < CW_PROPOSAL_CHOICES && g_strcmp0(name, names[choice]) != 0)
    choice++;
  return (CwProposalChoice)choice;
}

static void copy_outputs(CwList *to, CwList *from)
{
  cw_list_clear(to);
  for (guint i = 0; i < cw_list_get_length(from); i++) {
    g_autoptr(CwRecord) copy = cw_record_copy(cw_list_get(from, i));
    cw_list_append(to, copy);
  }
}

static gint64 count_corrections(CwList *outputs)
{
  gint64 count = 0;

  for (guint i = 0; i < cw_list_get_length(outputs); i++) {
    CwList *sections = cw_tune_output_get_sections(cw_list_get(outputs, i));
    for (guint k = 0; k < cw_list_get_length(sections); k++)
      count += cw_tune_section_get_use(cw_list_get(sections, k)) == CW_USE_CORRECTION;
  }
  return count;
}

/* A tune's own figures and outputs as an alternative. */
static CwRecord *alternative_of(CwRecord *tune, const char *name)
{
  CwRecord *choice = cw_record_new(cw_tune_choice_get_type());
  const CwNumbers *figures = cw_tune_get_figures(tune);
  CwList *outputs = cw_tune_choice_get_outputs(choice);

  cw_tune_choice_set_name(choice, name);
  copy_outputs(outputs, cw_tune_get_outputs(tune));
  cw_tune_choice_set_corrections(choice, count_corrections(outputs));
  for (gsize i = 0; i < G_N_ELEMENTS(shared); i++) {
    const char *figure = cw_record_get_field_at(choice, shared[i])->key;
    double value = figures ? cw_numbers_named(figures, figure) : NAN;
    if (!isnan(value))
      cw_record_set_number_at(choice, shared[i], value);
  }
  return choice;
}

/* The loudest of the tunes stands at 0. */
static double loudest_db(CwProposal *const choice[CW_PROPOSAL_CHOICES])
{
  double loudest = -INFINITY;
  for (int k = 0; k < CW_PROPOSAL_CHOICES; k++)
    loudest = fmax(loudest, choice[k]->level_db);
  return loudest;
}

void cw_tune_write_alternatives(CwRecord *tune, const CwCar *car,
                                CwProposal *const choice[CW_PROPOSAL_CHOICES], const CwProposalHold *hold,
                                double rate_hz)
{
  CwList *list = cw_tune_get_alternatives(tune);
  g_autoptr(CwRecord) previous =
      cw_list_get_length(cw_tune_get_outputs(tune)) ? alternative_of(tune, PREVIOUS) : NULL;
  double loudest = loudest_db(choice);

  cw_list_clear(list);
  for (int k = 0; k < CW_PROPOSAL_CHOICES; k++) {
    g_autoptr(CwRecord) other = cw_record_copy(tune);
    cw_job_write_tune(other, car, choice[k], hold, rate_hz);
    g_autoptr(CwRecord) record = alternative_of(other, names[k]);
    cw_tune_choice_set_headroom_db(record, choice[k]->level_db - loudest);
    cw_list_append(list, record);
  }
  if (previous)
    cw_list_append(list, previous);
}

gboolean cw_tune_take_alternative(CwRecord *vehicle, const char *name, GError **error)
{
  CwRecord *tune = cw_vehicle_get_tune(vehicle);
  CwList *list = tune ? cw_tune_get_alternatives(tune) : NULL;
  CwRecord *choice = list ? cw_list_find_text_at(list, CW_TUNE_CHOICE_FIELD_NAME, name) : NULL;

  if (!choice)
    return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, _("the tune has no alternative “%s”"), name);
  if (cw_tune_choice_of_name(name) == CW_PROPOSAL_CHOICES) { /* what is in use becomes the one before */
    g_autoptr(CwRecord) now = alternative_of(tune, PREVIOUS);
    copy_outputs(cw_tune_get_outputs(tune), cw_tune_choice_get_outputs(choice));
    cw_record_assign(choice, now);
  } else {
    copy_outputs(cw_tune_get_outputs(tune), cw_tune_choice_get_outputs(choice));
  }
  cw_tune_set_chosen(tune, cw_tune_choice_of_name(name) == CW_PROPOSAL_CHOICES ? "" : name);
  cw_job_review(vehicle);
  return TRUE;
}
