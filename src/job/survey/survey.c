/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/survey/survey.h"
#include "job/findings/review.h"
#include "job/input_file.h"
#include "job/survey/survey_mix.h"
#include "job/survey/survey_record.h"
#include "job/survey/tracks.h"
#include "job/survey/volts.h"
#include "vehicle/json/document.h"
#include <glib/gi18n-lib.h>
#include <math.h>
#include <string.h>

/* A recording of the list. */
typedef struct {
  char *id, *path, *seat;
  CwStimulusKind kind;
  double track_rate_hz, volume_step;
  guint n_leads;
  int *leads;
} Listed;

struct CwSurveyWork {
  CwRecord *vehicle; /* snapshot */
  GArray *listed;
  GPtrArray *refused;       /* sentences on recordings that were left out */
  guint unread;             /* recordings that the list is wrong about */
  guint recordings_refused; /* how many of them are about recordings; the rest came of concluding */
  CwLeadSurvey *heard;
  CwSurveyResult *result;
  CwRecord *survey;
  guint replaced;      /* inputs changed by hand */
  char *restore_point; /* which keeps them; NULL where none could be made */
};

static void clear_listed(gpointer data)
{
  Listed *l = data;
  g_free(l->id);
  g_free(l->path);
  g_free(l->seat);
  g_free(l->leads);
}

static gboolean read_leads(CwRecord *take, guint index, Listed *l, GError **error)
{
  const CwNumbers *leads = cw_survey_take_get_leads(take);

  l->n_leads = leads ? leads->n_rows : 0;
  l->leads = g_new0(int, l->n_leads + 1);
  for (guint i = 0; i < l->n_leads; i++) {
    l->leads[i] = (int)cw_numbers_at(leads, i, 0);
    for (guint k = 0; k < i; k++)
      if (l->leads[k] == l->leads[i]) {
        g_set_error(error, CW_JOB_ERROR, CW_JOB_ERROR_RECORDING, "takes[%u].leads: lead %d is there twice",
                    index, l->leads[i]);
        return FALSE;
      }
  }
  if (l->n_leads == 0)
    g_set_error(error, CW_JOB_ERROR, CW_JOB_ERROR_RECORDING,
                "takes[%u].leads: at least one lead was expected", index);
  return l->n_leads > 0;
}

static gboolean list_take(CwSurveyWork *work, CwRecord *take, guint index, const char *folder, GError **error)
{
  Listed l = {0};
  gint64 step = cw_survey_take_get_volume_step(take);
  const char *recording = cw_survey_take_get_recording(take);

  if (!cw_job_read_track_name(cw_survey_take_get_track(take), &l.kind, &l.track_rate_hz, error)) {
    g_prefix_error(error, "takes[%u].track: ", index);
    return FALSE;
  }
  l.id = g_strdup(cw_survey_take_get_id(take));
  l.path = g_path_is_absolute(recording) || !folder ? g_strdup(recording)
                                                    : g_build_filename(folder, recording, NULL);
  l.seat = g_strdup(cw_survey_take_get_seat_setting(take));
  l.volume_step = step == CW_NO_INTEGER ? NAN : (double)step;
  gboolean good = read_leads(take, index, &l, error);
  g_array_append_val(work->listed, l);
  return good;
}

CwSurveyWork *cw_survey_work_new_live(CwRecord *vehicle, double volts_per_full_scale)
{
  CwSurveyWork *work = g_new0(CwSurveyWork, 1);

  work->vehicle = cw_record_snapshot(vehicle);
  work->listed = g_array_new(FALSE, TRUE, sizeof(Listed));
  g_array_set_clear_func(work->listed, clear_listed);
  work->refused = g_ptr_array_new_with_free_func(g_free);
  work->heard = cw_lead_survey_new(volts_per_full_scale);
  return work;
}

/* What the list says, or the multimeter said. */
static double volts_of(CwRecord *vehicle, CwRecord *takes)
{
  double listed = cw_survey_takes_get_volts_per_full_scale(takes);
  return isnan(listed) ? cw_job_volts_at_full_scale(vehicle) : listed;
}

CwSurveyWork *cw_survey_work_new(CwRecord *vehicle, CwRecord *takes, const char *folder, GError **error)
{
  g_autoptr(CwSurveyWork) work = cw_survey_work_new_live(vehicle, volts_of(vehicle, takes));
  CwList *list = cw_survey_takes_get_takes(takes);

  for (guint i = 0; i < cw_list_get_length(list); i++)
    if (!list_take(work, cw_list_get(list, i), i, folder, error))
      return NULL;
  if (work->listed->len == 0) {
    g_set_error_literal(error, CW_JOB_ERROR, CW_JOB_ERROR_RECORDING, "takes: at least one take was expected");
    return NULL;
  }
  return g_steal_pointer(&work);
}

CwSurveyWork *cw_survey_work_read(CwRecord *vehicle, const char *path, GError **error)
{
  gsize length;
  g_autofree char *folder = g_path_get_dirname(path),
                  *text = cw_job_read_file(path, CW_DOCUMENT_MOST_BYTES, &length, error);
  CwSurveyWork *work = NULL;

  if (!text)
    return NULL;
  g_autoptr(CwRecord) takes = cw_record_from_json(cw_survey_takes_get_type(), text, (gssize)length, error);
  work = takes ? cw_survey_work_new(vehicle, takes, folder, error) : NULL;
  if (!work)
    g_prefix_error(error, "%s: ", path);
  return work;
}

void cw_survey_work_free(CwSurveyWork *work)
{
  if (!work)
    return;
  g_clear_object(&work->vehicle);
  g_clear_object(&work->survey);
  g_clear_pointer(&work->listed, g_array_unref);
  g_clear_pointer(&work->refused, g_ptr_array_unref);
  cw_survey_result_free(work->result);
  cw_lead_survey_free(work->heard);
  g_free(work->restore_point);
  g_free(work);
}

/* A take in which nothing was heard and from which nothing can be told. */
static void refuse_unheard(CwSurveyWork *work, gboolean unheard, CwStimulusKind kind)
{
  if (unheard)
    g_ptr_array_add(work->refused, g_strdup_printf(_("take \"%s\": none of the test tracks is in it: check "
                                                     "that the radio plays and that the leads are connected"),
                                                   cw_stimulus_name(kind)));
}

/* Hears samples, which are changed. */
static char *hear_samples(CwSurveyWork *work, CwStimulusKind kind, double track_rate_hz, const int *leads,
                          double volume_step, const char *seat, CwRecording *r)
{
  CwSurveyRecording recording = {kind,       track_rate_hz, r->rate_hz,  r->channels, r->frames,
                                 r->channel, leads,         volume_step, seat};
  return cw_lead_survey_accept(work->heard, &recording);
}

static char *say_channels(guint channels, guint leads)
{
  return g_strdup_printf(_("holds %u channels where %u leads were named"), channels, leads);
}

static void refuse_take(CwSurveyWork *work, gboolean wrong, CwStimulusKind kind, const char *why)
{
  if (wrong)
    g_ptr_array_add(work->refused, g_strdup_printf(_("take \"%s\": %s"), cw_stimulus_name(kind), why));
}

/* Which end's take moved nothing though the other's did: the one in which no lead of the opposite end fell.
 */
static CwStimulusKind unturned_take(const CwSurveyResult *r)
{
  for (size_t i = 0; i < r->leads; i++)
    if (r->lead[i].end == CW_END_FRONT)
      return CW_STIMULUS_FRONT;
  return CW_STIMULUS_REAR;
}

/* Takes that were played, but not as the list says. */
static void refuse_unturned(CwSurveyWork *work)
{
  const CwSurveyResult *r = work->result;

  refuse_unheard(work, r->front_unheard, CW_STIMULUS_FRONT);
  refuse_unheard(work, r->rear_unheard, CW_STIMULUS_REAR);
  refuse_take(work, r->fader_doubt, unturned_take(r),
              _("no lead changed in it, though the fader moves leads at the other end: was the fader turned? "
                "Record it again"));
  refuse_take(work, r->quiet_not_quieter, CW_STIMULUS_QUIET,
              _("it is no softer than the survey's take: was the volume turned down? Record it again"));
  refuse_take(work, r->loud_not_louder, CW_STIMULUS_LOUD,
              _("it is no louder than the survey's take: was the volume turned up? Record it again"));
}

/* Reads and hears one recording; what is wrong with it goes to the refused. */
static void hear(CwSurveyWork *work, const Listed *l)
{
  g_autoptr(GError) fault = NULL;
  g_autoptr(CwRecording) r = cw_recording_read(l->path, &fault);
  g_autofree char *wrong = NULL;

  if (r)
    wrong = r->channels != l->n_leads
                ? say_channels(r->channels, l->n_leads)
                : hear_samples(work, l->kind, l->track_rate_hz, l->leads, l->volume_step, l->seat, r);
  work->unread += !r || r->channels != l->n_leads;
  if (fault)
    g_ptr_array_add(work->refused, g_strdup(fault->message));
  else if (wrong && (r->channels != l->n_leads || !cw_lead_survey_tells_trouble(work->heard)))
    g_ptr_array_add(work->refused, g_strdup_printf("%s: %s", l->path, wrong));
  work->recordings_refused = work->refused->len;
}

char *cw_survey_work_hear(CwSurveyWork *work, CwStimulusKind kind, const int *leads, guint n_leads,
                          gint64 volume_step, const char *seat, const CwRecording *recording)
{
  if (recording->channels != n_leads)
    return say_channels(recording->channels, n_leads);
  g_autoptr(CwRecording) copy = cw_recording_new(recording->rate_hz, n_leads, recording->frames);
  for (guint c = 0; c < n_leads; c++)
    memcpy(copy->channel[c], recording->channel[c], recording->frames * sizeof(double));
  cw_lead_survey_forget(work->heard, kind, seat, leads, n_leads);
  return hear_samples(work, kind, CW_TRACKS_RATE_HZ, leads,
                      volume_step == CW_NO_INTEGER ? NAN : (double)volume_step, seat, copy);
}

void cw_survey_work_set_volts(CwSurveyWork *work, double volts_per_full_scale)
{
  cw_lead_survey_set_volts(work->heard, volts_per_full_scale);
}

guint cw_survey_work_count_unread(const CwSurveyWork *work)
{
  return work->unread;
}

guint cw_survey_work_count(const CwSurveyWork *work, CwStimulusKind kind)
{
  return (guint)cw_lead_survey_count(work->heard, kind);
}

gboolean cw_survey_work_conclude(CwSurveyWork *work, GError **error)
{
  g_autoptr(GPtrArray) refused = g_ptr_array_new();
  guint known = work->recordings_refused;

  g_clear_pointer(&work->result, cw_survey_result_free);
  g_clear_object(&work->survey);
  work->result = cw_lead_survey_conclude(work->heard);
  if (!work->result) {
    g_set_error_literal(error, CW_JOB_ERROR, CW_JOB_ERROR_RECORDING,
                        work->refused->len
                            ? (char *)g_ptr_array_index(work->refused, 0)
                            : _("takes: none of the track \"leads\" is there, which the survey needs"));
    return FALSE;
  }
  work->survey = cw_job_survey_record(work->result);
  g_ptr_array_set_size(work->refused, (gint)known);
  refuse_unturned(work);
  for (guint i = 0; i < work->refused->len; i++)
    g_ptr_array_add(refused, g_ptr_array_index(work->refused, i));
  g_ptr_array_add(refused, NULL);
  cw_survey_set_refused(work->survey, (const char *const *)refused->pdata);
  cw_job_mix_survey(work->survey, cw_vehicle_get_processor(work->vehicle));
  return TRUE;
}

gboolean cw_survey_work_run(CwSurveyWork *work, GCancellable *cancellable, CwProgress progress, gpointer data,
                            GError **error)
{
  for (guint i = 0; i < work->listed->len; i++) {
    const Listed *l = &g_array_index(work->listed, Listed, i);
    if (g_cancellable_set_error_if_cancelled(cancellable, error))
      return FALSE;
    if (progress)
      progress(0.8 * i / work->listed->len, _("Listening to the recordings"), data);
    hear(work, l);
  }
  if (progress)
    progress(0.8, _("Working out what each lead carries"), data);
  return cw_survey_work_conclude(work, error);
}

CwRecord *cw_survey_work_get_survey(CwSurveyWork *work)
{
  return work->survey;
}

/* Keeps the vehicle as it is where hands changed what is about to be replaced. That no restore point can be
 * made is no reason to stop: the step can be undone. */
static void keep_hands(CwSurveyWork *work, CwProject *project)
{
  CwRecord *vehicle = cw_project_get_vehicle(project), *tune = cw_vehicle_get_tune(vehicle);
  CwList *inputs = tune ? cw_tune_get_inputs(tune) : NULL;
  g_autoptr(GDateTime) now = g_date_time_new_now_local();
  g_autofree char *time = g_date_time_format(now, "%Y-%m-%d %H:%M:%S");

  work->replaced = 0;
  g_clear_pointer(&work->restore_point, g_free);
  for (guint i = 0; inputs && i < cw_list_get_length(inputs); i++)
    work->replaced += cw_job_input_is_by_hand(vehicle, cw_list_get(inputs, i));
  if (work->replaced == 0)
    return;
  work->restore_point = g_strdup_printf(_("Before the survey, %s"), time);
  if (!cw_project_make_restore_point(project, work->restore_point, NULL))
    g_clear_pointer(&work->restore_point, g_free);
}

char *cw_survey_work_tell_replaced(CwSurveyWork *work)
{
  if (work->replaced == 0)
    return NULL;
  if (!work->restore_point)
    return g_strdup_printf(ngettext("It replaces %u input that was changed by hand; Undo brings it back.",
                                    "It replaces %u inputs that were changed by hand; Undo brings them back.",
                                    work->replaced),
                           work->replaced);
  return g_strdup_printf(ngettext("It replaces %u input that was changed by hand; Undo brings it back, and "
                                  "the restore point “%s” keeps it.",
                                  "It replaces %u inputs that were changed by hand; Undo brings them back, "
                                  "and the restore point “%s” keeps them.",
                                  work->replaced),
                         work->replaced, work->restore_point);
}

void cw_survey_work_store(CwSurveyWork *work, CwProject *project)
{
  keep_hands(work, project);
  CwRecord *vehicle = cw_project_get_vehicle(project);

  cw_vehicle_set_survey(vehicle, work->survey);
  cw_job_apply_correction(vehicle);
  cw_job_review(vehicle);
}
