/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/sound/live_microphone.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define FIRST_FRACTION 6
#define LOW_HZ 20
#define HIGH_HZ 20000
#define UPDATE_MS 60
#define PRACTICE_RATE_HZ 96000
#define FAST_SECONDS 0.125
#define SLOW_SECONDS 1.0

struct _CwLiveMicrophone {
  GObject parent_instance;
  CwSession *session;
  CwSoundDesk *desk;
  CwHearing hearing;
  CwLiveSpectrum *live; /* NULL while it does not listen */
  CwSoundMeter meter;
  double rate_hz;
  guint timeout;
  gint64 begun_us;           /* the bands, or their average */
  double microphone_full_db; /* what a mean square of 1 is: dB SPL with a calibrated microphone, else 0 */
};

G_DEFINE_FINAL_TYPE(CwLiveMicrophone, cw_live_microphone, G_TYPE_OBJECT)

static guint changed, heard;

static void end(CwLiveMicrophone *ear)
{
  g_clear_handle_id(&ear->timeout, g_source_remove);
  g_clear_pointer(&ear->live, cw_live_spectrum_free);
  if (cw_sound_desk_get_ear(ear->desk) == ear)
    cw_sound_desk_set_ear(ear->desk, NULL);
}

void cw_live_microphone_stop(CwLiveMicrophone *ear)
{
  if (!ear->live)
    return;
  cw_sound_client_unlisten(cw_sound_desk_get_client(ear->desk));
  end(ear);
  g_signal_emit(ear, changed, 0);
}

static void ear_dispose(GObject *object)
{
  CwLiveMicrophone *ear = CW_LIVE_MICROPHONE(object);
  if (ear->live)
    cw_sound_client_unlisten(cw_sound_desk_get_client(ear->desk));
  if (ear->desk)
    end(ear);
  g_clear_object(&ear->session);
  g_clear_object(&ear->desk);
  G_OBJECT_CLASS(cw_live_microphone_parent_class)->dispose(object);
}

static void cw_live_microphone_class_init(CwLiveMicrophoneClass *klass)
{
  G_OBJECT_CLASS(klass)->dispose = ear_dispose;
  changed = g_signal_new("changed", G_TYPE_FROM_CLASS(klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL,
                         G_TYPE_NONE, 0);
  heard =
      g_signal_new("heard", G_TYPE_FROM_CLASS(klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
}

static void cw_live_microphone_init(CwLiveMicrophone *ear)
{
}

static void on_live_block(CwLiveMicrophone *ear, const CwAudioChunk *chunk)
{
  if (!ear->live || !chunk->channels)
    return;
  const float *sample = chunk->sample + MIN(ear->hearing.input, chunk->channels - 1);
  cw_live_spectrum_push(ear->live, sample, chunk->channels, chunk->frames);
  cw_sound_meter_run(&ear->meter, sample, chunk->channels, chunk->frames);
}

CwLiveMicrophone *cw_live_microphone_new(CwSession *session, CwSoundDesk *desk, CwBallistics ballistics)
{
  CwLiveMicrophone *ear = g_object_new(CW_TYPE_LIVE_MICROPHONE, NULL);
  ear->session = g_object_ref(session);
  ear->desk = g_object_ref(desk);
  ear->hearing = (CwHearing){ballistics, FIRST_FRACTION, CW_METER_FLAT, 0};
  g_signal_connect_object(desk, "stop-asked", G_CALLBACK(cw_live_microphone_stop), ear, G_CONNECT_SWAPPED);
  g_signal_connect_object(cw_sound_desk_get_client(desk), "live-block", G_CALLBACK(on_live_block), ear,
                          G_CONNECT_SWAPPED);
  return ear;
}

static gboolean update(gpointer data)
{
  CwLiveMicrophone *ear = data;
  if (cw_live_spectrum_update(ear->live))
    g_signal_emit(ear, heard, 0);
  return G_SOURCE_CONTINUE;
}

static void on_listening(GObject *source, GAsyncResult *result, gpointer data)
{
  g_autoptr(CwLiveMicrophone) ear = data;
  g_autoptr(GError) error = NULL;
  gboolean listening = cw_sound_client_listen_finish(CW_SOUND_CLIENT(source), result, &error);
  if (listening || !ear->live)
    return;
  cw_session_tell(ear->session, CW_TOLD_FAILED,
                  _("The microphone could not be heard: %s. Look at the device's cable, then try again."),
                  error->message);
  end(ear);
  g_signal_emit(ear, changed, 0);
}

static double full_scale_of(CwLiveMicrophone *ear)
{
  CwRecord *vehicle = cw_session_get_vehicle(ear->session);
  CwRecord *microphone = vehicle ? cw_vehicle_get_microphone(vehicle) : NULL;
  double spl = microphone ? cw_microphone_get_spl_at_full_scale(microphone) : (double)NAN;
  return isfinite(spl) ? spl + 3.0103
                       : 0; /* the sheet's is of a sine that fills the recorder: half a mean square of 1 */
}

static gboolean hears_microphone(CwLiveMicrophone *ear)
{
  return ear->hearing.input == 0;
}

static double full_scale_db(CwLiveMicrophone *ear)
{
  return hears_microphone(ear) ? ear->microphone_full_db : 0;
}

/* The bands and the meter begin anew. */
static void begin_bands(CwLiveMicrophone *ear)
{
  g_clear_pointer(&ear->live, cw_live_spectrum_free);
  ear->live = cw_live_spectrum_new(ear->rate_hz, ear->hearing.fraction, LOW_HZ, HIGH_HZ);
  cw_live_spectrum_set_ballistics(ear->live, ear->hearing.ballistics);
  cw_sound_meter_init(&ear->meter, ear->rate_hz,
                      ear->hearing.ballistics == CW_BALLISTICS_FAST ? FAST_SECONDS : SLOW_SECONDS);
  ear->begun_us = g_get_monotonic_time();
}

void cw_live_microphone_start(CwLiveMicrophone *ear)
{
  const CwSoundDevice *device = cw_sound_desk_find_device(ear->desk);
  CwLiveMicrophone *other = cw_sound_desk_get_ear(ear->desk);
  CwSoundJob job;
  if (ear->live)
    return;
  if (other)
    cw_live_microphone_stop(other);
  cw_sound_job_init(&job);
  job.device = cw_sound_desk_get_device(ear->desk);
  job.rate_hz = ear->rate_hz = device ? device->rate_hz : PRACTICE_RATE_HZ;
  job.inputs = MAX(cw_live_microphone_count_inputs(ear), 1);
  begin_bands(ear);
  ear->microphone_full_db = full_scale_of(ear);
  ear->timeout = g_timeout_add(UPDATE_MS, update, ear);
  cw_sound_desk_set_ear(ear->desk, ear);
  cw_sound_client_listen_async(cw_sound_desk_get_client(ear->desk), &job, NULL, on_listening,
                               g_object_ref(ear));
  g_signal_emit(ear, changed, 0);
}

gboolean cw_live_microphone_is_listening(CwLiveMicrophone *ear)
{
  return ear->live != NULL;
}

guint cw_live_microphone_count_inputs(CwLiveMicrophone *ear)
{
  const CwSoundDevice *device = cw_sound_desk_find_device(ear->desk);
  return device ? MIN(device->inputs, CW_LIVE_INPUTS_MOST) : 2;
}

CwHearing cw_live_microphone_get_hearing(CwLiveMicrophone *ear)
{
  return ear->hearing;
}

void cw_live_microphone_set_hearing(CwLiveMicrophone *ear, const CwHearing *hearing)
{
  gboolean anew = hearing->fraction != ear->hearing.fraction || hearing->input != ear->hearing.input ||
                  hearing->ballistics != ear->hearing.ballistics;
  ear->hearing = *hearing;
  if (ear->live && anew)
    begin_bands(ear);
  g_signal_emit(ear, changed, 0);
}

void cw_live_microphone_forget_highest(CwLiveMicrophone *ear)
{
  if (ear->live)
    cw_live_spectrum_forget_highest(ear->live);
}

void cw_live_microphone_begin_anew(CwLiveMicrophone *ear)
{
  if (!ear->live)
    return;
  cw_live_spectrum_reset(ear->live);
  ear->begun_us = g_get_monotonic_time();
}

double cw_live_microphone_get_seconds(CwLiveMicrophone *ear)
{
  return ear->live ? (double)(g_get_monotonic_time() - ear->begun_us) / G_USEC_PER_SEC : 0;
}

double cw_live_microphone_get_lag(CwLiveMicrophone *ear)
{
  return ear->live && cw_live_spectrum_band_count(ear->live) ? cw_live_spectrum_seconds(ear->live, 0) : 0;
}

double cw_live_microphone_get_wait(CwLiveMicrophone *ear)
{
  return fmax(cw_live_microphone_get_lag(ear) - cw_live_microphone_get_seconds(ear), 0);
}

gboolean cw_live_microphone_is_calibrated(CwLiveMicrophone *ear)
{
  return full_scale_db(ear) > 0;
}

double cw_live_microphone_read_level(CwLiveMicrophone *ear, CwMeterWeighting weighting)
{
  return ear->live ? cw_sound_meter_level_db(&ear->meter, weighting) + full_scale_db(ear) : (double)NAN;
}

static double weight_db(CwMeterWeighting weighting, double hz)
{
  return weighting == CW_METER_A   ? cw_weighting_a_db(hz)
         : weighting == CW_METER_C ? cw_weighting_c_db(hz)
                                   : 0;
}

guint cw_live_microphone_read(CwLiveMicrophone *ear, double **hz, double **level_db, double **peak_db)
{
  guint count = ear->live ? (guint)cw_live_spectrum_band_count(ear->live) : 0;
  const CwBand *bands = ear->live ? cw_live_spectrum_bands(ear->live) : NULL;
  double *level = g_new0(double, count), *peak = g_new0(double, count), *centre = g_new0(double, count);
  if (count)
    cw_live_spectrum_read(ear->live, level, peak);
  for (guint i = 0; i < count; i++) {
    double add = full_scale_db(ear) + weight_db(ear->hearing.weighting, bands[i].centre_hz);
    centre[i] = bands[i].centre_hz;
    level[i] += add;
    peak[i] += add;
  }
  double **wanted[] = {hz, level_db, peak_db}, *got[] = {centre, level, peak};
  for (guint i = 0; i < G_N_ELEMENTS(wanted); i++)
    if (wanted[i])
      *wanted[i] = got[i];
    else
      g_free(got[i]);
  return count;
}
