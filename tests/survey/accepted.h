/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A survey that has heard ideal recordings of leads that are known, without a sample being made. */
#pragma once
#include "radio.h"
#include "survey/survey_private.h"
#include <math.h>

/* A lead and what the radio does to it in a take. */
typedef struct {
  RadioLead lead;
  double gain_db; /* against the lead's own */
  bool silenced;  /* by the fader: nothing but noise */
  double clip_dbfs[CW_STIMULUS_TONES];
} AcceptedLead;

#define ACCEPTED_NOISE 1e-4 /* of a lead's top */

/* Adds a take of the kind, in which the leads are numbered from first on. */
static inline void accepted_take(CwLeadSurvey *survey, CwStimulusKind kind, const AcceptedLead *lead,
                                 size_t leads, int first, double volume_step, const char *seat)
{
  CwStimulus s = cw_stimulus_design(kind);
  CwAcceptedTake take = {.kind = kind,
                         .track_rate_hz = RADIO_RATE_HZ,
                         .volume_step = volume_step,
                         .player_ppm = 12,
                         .ppm_weight = 1,
                         .seat = g_strdup(seat),
                         .leads = leads,
                         .lead = g_new0(CwAcceptedLead, leads)};
  for (size_t i = 0; i < leads; i++) {
    CwAcceptedLead *a = &take.lead[i];
    a->lead = first + (int)i;
    a->noise_rms = 1e-5;
    for (size_t w = 0; w < s.sweeps; w++) {
      int heard = s.sweep[w].channels & lead[i].lead.fed_from;
      double times = heard == CW_PLAYED_BOTH ? 2 : 1, top = 0;
      RadioLead now = lead[i].lead;
      now.gain *= times * pow(10, lead[i].gain_db / 20);
      radio_ideal(&now, ACCEPTED_NOISE, &a->response[w]);
      for (size_t p = 0; p < CW_LEAD_POINTS; p++)
        top = MAX(top, a->response[w].noise[p]);
      for (size_t p = 0; p < CW_LEAD_POINTS && (!heard || lead[i].silenced); p++)
        a->response[w].value[p] = 0.5 * top;
    }
    a->quiet_rms = 1e-5;
    a->loudest_rms =
        lead[i].silenced ? 1.5e-5 : 0.2 * fabs(lead[i].lead.gain) * pow(10, lead[i].gain_db / 20);
    for (size_t t = 0; t < s.tones; t++)
      a->tone[t] = (CwToneClip){.readable = true,
                                .clip_dbfs = lead[i].clip_dbfs[t] < 0 ? lead[i].clip_dbfs[t] : NAN,
                                .top_level = 0.5};
  }
  g_array_append_val(survey->takes, take);
}
