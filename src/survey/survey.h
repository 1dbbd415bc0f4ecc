/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "survey/check/trouble.h"
#include "survey/leads/clip.h"
#include "survey/leads/lead_fit.h"
#include "vehicle/kinds/kind_words.h"
#include <glib.h>

/* A survey of a factory radio: recordings are heard one after the other, in any order, then it concludes. */

#define CW_SURVEY_MOST_LEADS 64
#define CW_SURVEY_POINTS 120 /* of the response that is told: 1/12 octave from 20 Hz */

enum { CW_SURVEY_UNKNOWN = -1 };

typedef struct {
  CwStimulusKind kind;
  double track_rate_hz; /* of the track that was played */
  double rate_hz;       /* of the recording */
  size_t channels, frames;
  double **channel;   /* full scale 1; the samples are changed */
  const int *lead;    /* number of each channel's lead */
  double volume_step; /* NAN where it was not noted */
  const char *seat;   /* the radio's seat setting at the time */
} CwSurveyRecording;

/* What is known of one lead. Numbers are NAN, and side, end and band CW_SURVEY_UNKNOWN, where nothing certain
 * can be said. */
typedef struct {
  int lead;
  bool silent; /* nothing but noise */
  int side, end, band;
  double low_hz, high_hz;         /* NAN beyond 20 Hz or 20 kHz */
  double polarity;                /* +1, -1, or 0 for unknown */
  double delay_seconds;           /* after the earliest lead */
  double delay_deviation_seconds; /* its standard deviation, by the lead's own band and noise */
  double level_dbv;               /* at the top of its band, for a full-scale sine at the survey's volume */
  double clean_dbv;               /* the same at the highest clean volume */
  bool all_pass;
  double all_pass_hz, all_pass_q;
  double clip_dbfs, clip_tone_hz;
  double noise_dbv, hum_dbv;
  double front_change_db, rear_change_db; /* by the fader */
  double
      bass_change_db; /* of the bass against the middle when the volume goes from the survey's to the quiet */
  double response_dbv[CW_SURVEY_POINTS]; /* for a full-scale sine; NAN where noise hides it */
  CwComplex value[CW_LEAD_POINTS]; /* volts for full scale on the lead's side(s), turned by the delay after
                                      the earliest lead; 0 where noise hides it */
  double delay_in_value;           /* which was taken out of value: multiply by e^(-j 2 pi f delay) */
  CwLeadFit fit;
  bool linear_phase; /* its filters turn no phase but the delay's */
  double left,
      right;      /* MIXED: what it plays of the track's channels, the larger one 1; NAN for as it should */
  unsigned doubt; /* CW_DOUBT_... */
} CwSurveyedLead;

#define CW_SURVEY_MOST_TROUBLES 48

typedef struct {
  double player_ppm;                                     /* NAN */
  double survey_step, quiet_step, loud_step, clean_step; /* NAN */
  double clean_change_db; /* from the survey's volume to the highest clean one; NAN */
  double volts_per_full_scale;
  bool volts_untold; /* levels are told as if a volt filled the recorder */
  bool loudness_found;
  double loudness_db; /* change of the bass against the middle between the volumes where it is largest */
  char *seat;         /* the setting during the takes that were concluded from */
  char *other_seat;   /* another setting that was recorded besides; NULL for none */
  bool seat_found;    /* that setting delays one side, or changes delays against the other setting's */
  bool seat_active;   /* it is the setting concluded from that delays one side */
  int seat_side;      /* the side that it delays, CW_SIDE_LEFT or CW_SIDE_RIGHT; CW_SURVEY_UNKNOWN */
  double seat_delay_seconds;
  bool front_silent,
      rear_silent; /* with the fader full there no track was heard, which told the ends all the same */
  bool fader_one_way,
      fader_doubt; /* the fader moved leads at one end alone; and some lead's end is unknown for that */
  bool quiet_not_quieter,
      loud_not_louder;              /* the volume was not turned for that take: nothing was taken from it */
  bool front_unheard, rear_unheard; /* the same, but nothing can be told from it */
  size_t leads;
  CwSurveyedLead *lead; /* by number */
  size_t troubles;
  CwTrouble trouble[CW_SURVEY_MOST_TROUBLES];
  unsigned doubt;            /* CW_DOUBT_CLOCK and on: of the survey as a whole */
  double loud_correction_db; /* by which the loud take's level is off, as the steps and the recorder's noise
                                say */
  double quiet_change_db;    /* from the quiet volume to the survey's; 0 for unknown */
  double limit_dbfs;         /* track level from which a limiter acts at the loud volume; NAN for none */
} CwSurveyResult;

typedef struct CwLeadSurvey CwLeadSurvey;

/* An empty survey. volts_per_full_scale: peak volts that fill the interface; above 0. Free with
 * cw_lead_survey_free(). */
CwLeadSurvey *cw_lead_survey_new(double volts_per_full_scale);
/* Sets the recorder's volts at full scale, NAN where they are not known, for conclusions from now on. */
void cw_lead_survey_set_volts(CwLeadSurvey *survey, double volts_per_full_scale);
void cw_lead_survey_free(CwLeadSurvey *survey);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwLeadSurvey, cw_lead_survey_free)

/* Hears one recording. Returns NULL if it is fit for use, else a sentence that says what is wrong with it and
 * what to do (free with g_free()): it is then left out. */
char *cw_lead_survey_accept(CwLeadSurvey *survey, const CwSurveyRecording *recording);

/* Whether the sentence that cw_lead_survey_accept() returned last is among the troubles of the conclusion. Of
 * the track of the leads such a recording is not left out: what is concluded from it carries doubt. */
bool cw_lead_survey_tells_trouble(const CwLeadSurvey *survey);

/* Forgets what was heard of a track under a seat setting in recordings that hold none but these leads: before
 * they are recorded again. */
void cw_lead_survey_forget(CwLeadSurvey *survey, CwStimulusKind kind, const char *seat, const int *lead,
                           size_t leads);

/* Concludes from what was heard. NULL where no take of the leads was fit for use. Free with
 * cw_survey_result_free(). */
CwSurveyResult *cw_lead_survey_conclude(CwLeadSurvey *survey);
void cw_survey_result_free(CwSurveyResult *result);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwSurveyResult, cw_survey_result_free)

/* Recordings of a kind that were fit for use. */
size_t cw_lead_survey_count(const CwLeadSurvey *survey, CwStimulusKind kind);
