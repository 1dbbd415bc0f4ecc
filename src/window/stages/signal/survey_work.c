/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/signal/survey_work.h"

#include "job/practice/practice_radio.h"
#include "job/survey/tracks.h"
#include "job/survey/volts.h"
#include "simulator/practice_radio.h"

#include <glib/gi18n-lib.h>
#include <math.h>

/* --- heard one by one --- */

struct CwSurveyHeard {
  CwSurveyWork *work;
};

CwSurveyHeard *cw_survey_heard_new(CwRecord *vehicle, double volts)
{
  CwSurveyHeard *heard = g_atomic_rc_box_new0(CwSurveyHeard);
  heard->work = cw_survey_work_new_live(vehicle, volts);
  return heard;
}

CwSurveyHeard *cw_survey_heard_ref(CwSurveyHeard *heard)
{
  return g_atomic_rc_box_acquire(heard);
}

static void clear(gpointer heard)
{
  cw_survey_work_free(((CwSurveyHeard *)heard)->work);
}

void cw_survey_heard_unref(CwSurveyHeard *heard)
{
  g_atomic_rc_box_release_full(heard, clear);
}

static CwStimulusKind kind_of(CwRecord *take)
{
  CwStimulusKind kind = CW_STIMULUS_LEADS;
  double rate_hz;
  cw_job_read_track_name(cw_track_take_get_track(take), &kind, &rate_hz, NULL);
  return kind;
}

void cw_survey_heard_set_volts(CwSurveyHeard *heard, double volts)
{
  cw_survey_work_set_volts(heard->work, volts);
}

guint cw_survey_heard_count(CwSurveyHeard *heard, CwRecord *take)
{
  return cw_survey_work_count(heard->work, kind_of(take));
}

typedef struct {
  CwSurveyHeard *heard;
  CwStimulusKind kind;
  CwSurveySetting setting;
  CwRecording *recording;
} Hearing;

static void hearing_free(gpointer data)
{
  Hearing *hearing = data;
  cw_survey_heard_unref(hearing->heard);
  cw_recording_free(hearing->recording);
  g_free(hearing);
}

static void hear(GTask *task, gpointer source, gpointer data, GCancellable *cancellable)
{
  Hearing *hearing = data;
  const CwSurveySetting *setting = &hearing->setting;
  g_task_return_pointer(task,
                        cw_survey_work_hear(hearing->heard->work, hearing->kind, setting->lead,
                                            setting->leads, setting->volume_step, setting->seat_setting,
                                            hearing->recording),
                        g_free);
}

void cw_survey_heard_hear_async(CwSurveyHeard *heard, CwRecord *take, const CwSurveySetting *setting,
                                CwRecording *recording, GObject *source, GAsyncReadyCallback callback)
{
  Hearing *hearing = g_new0(Hearing, 1);
  *hearing = (Hearing){cw_survey_heard_ref(heard), kind_of(take), *setting, recording};
  g_autoptr(GTask) task = g_task_new(source, NULL, callback, NULL);
  g_task_set_task_data(task, hearing, hearing_free);
  g_task_run_in_thread(task, hear);
}

static gboolean conclude(gpointer heard, GCancellable *cancellable, CwProgress progress, gpointer data,
                         GError **error)
{
  return cw_survey_work_conclude(((CwSurveyHeard *)heard)->work, error);
}

static void store_heard(gpointer heard, CwProject *project)
{
  cw_survey_work_store(((CwSurveyHeard *)heard)->work, project);
}

static char *tell_heard(gpointer heard)
{
  return cw_survey_work_tell_replaced(((CwSurveyHeard *)heard)->work);
}

static void free_heard(gpointer heard)
{
  cw_survey_heard_unref(heard);
}

const CwWorkKind cw_survey_conclusion = {
    conclude,
    store_heard,
    free_heard,
    N_("Survey of the factory signal"),
    N_("The survey is there. Stop the track, turn the volume down, and look at the findings."),
    tell_heard};

/* --- from files --- */

static gboolean run_files(gpointer work, GCancellable *cancellable, CwProgress progress, gpointer data,
                          GError **error)
{
  return cw_survey_work_run(work, cancellable, progress, data, error);
}

static void store_files(gpointer work, CwProject *project)
{
  cw_survey_work_store(work, project);
}

static char *tell_files(gpointer work)
{
  return cw_survey_work_tell_replaced(work);
}

static void free_files(gpointer work)
{
  cw_survey_work_free(work);
}

const CwWorkKind cw_survey_from_files = {run_files,
                                         store_files,
                                         free_files,
                                         N_("Survey of the factory signal"),
                                         N_("The survey is there. Look at the findings."),
                                         tell_files};

/* --- the practice bay's radio --- */

typedef struct {
  CwRecord *vehicle;
  char *seat_setting;
  CwSurveyWork *work;
} Practice;

gpointer cw_practice_survey_new(CwRecord *vehicle, const char *seat_setting)
{
  Practice *practice = g_new0(Practice, 1);
  double read = cw_job_volts_at_full_scale(vehicle);
  *practice =
      (Practice){cw_record_snapshot(vehicle), g_strdup(seat_setting),
                 cw_survey_work_new_live(vehicle, isnan(read) ? CW_PRACTICE_VOLTS_PER_FULL_SCALE : read)};
  return practice;
}

static gboolean hear_practice(Practice *practice, CwRecord *take, guint64 seed, GError **error)
{
  int leads[CW_PRACTICE_LEADS_MOST];
  guint count = cw_job_practice_radio_leads(practice->vehicle);
  for (guint i = 0; i < count; i++)
    leads[i] = (int)i + 1;
  g_autoptr(CwRecording) recording = cw_job_practice_radio_record(
      practice->vehicle, take, practice->seat_setting, leads, count, seed, error);
  if (!recording)
    return FALSE;
  g_autofree char *fault = cw_survey_work_hear(practice->work, kind_of(take), leads, count,
                                               cw_job_practice_radio_step(practice->vehicle, take),
                                               practice->seat_setting, recording);
  if (fault)
    g_set_error(error, CW_JOB_ERROR, CW_JOB_ERROR_RECORDING, "%s: %s", cw_track_take_get_track(take), fault);
  return !fault;
}

static gboolean run_practice(gpointer work, GCancellable *cancellable, CwProgress progress, gpointer data,
                             GError **error)
{
  Practice *practice = work;
  g_autoptr(CwRecord) index = cw_job_track_index(CW_TRACKS_RATE_HZ);
  CwList *takes = cw_track_index_get_takes(index);
  for (guint i = 0; i < cw_list_get_length(takes); i++) {
    g_autofree char *words =
        g_strdup_printf(_("Recording %s"), cw_track_take_get_track(cw_list_get(takes, i)));
    if (g_cancellable_set_error_if_cancelled(cancellable, error))
      return FALSE;
    progress((double)i / cw_list_get_length(takes), words, data);
    if (!hear_practice(practice, cw_list_get(takes, i), 100 + i, error))
      return FALSE;
  }
  return cw_survey_work_conclude(practice->work, error);
}

static void store_practice(gpointer work, CwProject *project)
{
  cw_survey_work_store(((Practice *)work)->work, project);
}

static char *tell_practice(gpointer work)
{
  return cw_survey_work_tell_replaced(((Practice *)work)->work);
}

static void free_practice(gpointer work)
{
  Practice *practice = work;
  g_object_unref(practice->vehicle);
  cw_survey_work_free(practice->work);
  g_free(practice->seat_setting);
  g_free(practice);
}

const CwWorkKind cw_survey_of_practice = {run_practice,
                                          store_practice,
                                          free_practice,
                                          N_("Survey of the factory signal"),
                                          N_("The survey is there. Look at the findings."),
                                          tell_practice};
