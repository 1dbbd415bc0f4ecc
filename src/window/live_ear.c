/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/live_ear.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define FRACTION 6
#define LOW_HZ 20
#define HIGH_HZ 20000
#define UPDATE_MS 60
#define PRACTICE_RATE_HZ 96000

struct _CwLiveEar {
  GObject parent_instance;
  CwSession *session;
  CwSoundDesk *desk;
  CwBallistics ballistics;
  CwLiveSpectrum *live; /* NULL while it does not listen */
  guint timeout;
  double full_scale_db; /* what a mean square of 1 is: dB SPL with a calibrated microphone, else 0 */
};

G_DEFINE_FINAL_TYPE(CwLiveEar, cw_live_ear, G_TYPE_OBJECT)

static guint changed, heard;

static void end(CwLiveEar *ear)
{
  g_clear_handle_id(&ear->timeout, g_source_remove);
  g_clear_pointer(&ear->live, cw_live_spectrum_free);
  if (cw_sound_desk_get_ear(ear->desk) == ear)
    cw_sound_desk_set_ear(ear->desk, NULL);
}

void cw_live_ear_stop(CwLiveEar *ear)
{
  if (!ear->live)
    return;
  cw_sound_client_unlisten(cw_sound_desk_get_client(ear->desk));
  end(ear);
  g_signal_emit(ear, changed, 0);
}

static void ear_dispose(GObject *object)
{
  CwLiveEar *ear = CW_LIVE_EAR(object);
  if (ear->live)
    cw_sound_client_unlisten(cw_sound_desk_get_client(ear->desk));
  if (ear->desk)
    end(ear);
  g_clear_object(&ear->session);
  g_clear_object(&ear->desk);
  G_OBJECT_CLASS(cw_live_ear_parent_class)->dispose(object);
}

static void cw_live_ear_class_init(CwLiveEarClass *klass)
{
  G_OBJECT_CLASS(klass)->dispose = ear_dispose;
  changed = g_signal_new("changed", G_TYPE_FROM_CLASS(klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL,
                         G_TYPE_NONE, 0);
  heard =
      g_signal_new("heard", G_TYPE_FROM_CLASS(klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
}

static void cw_live_ear_init(CwLiveEar *ear)
{
}

static void on_live_block(CwLiveEar *ear, const CwAudioChunk *chunk)
{
  if (ear->live && chunk->channels)
    cw_live_spectrum_push(ear->live, chunk->sample, chunk->channels, chunk->frames);
}

CwLiveEar *cw_live_ear_new(CwSession *session, CwSoundDesk *desk, CwBallistics ballistics)
{
  CwLiveEar *ear = g_object_new(CW_TYPE_LIVE_EAR, NULL);
  ear->session = g_object_ref(session);
  ear->desk = g_object_ref(desk);
  ear->ballistics = ballistics;
  g_signal_connect_object(desk, "stop-asked", G_CALLBACK(cw_live_ear_stop), ear, G_CONNECT_SWAPPED);
  g_signal_connect_object(cw_sound_desk_get_client(desk), "live-block", G_CALLBACK(on_live_block), ear,
                          G_CONNECT_SWAPPED);
  return ear;
}

static gboolean update(gpointer data)
{
  CwLiveEar *ear = data;
  if (cw_live_spectrum_update(ear->live))
    g_signal_emit(ear, heard, 0);
  return G_SOURCE_CONTINUE;
}

static void on_listening(GObject *source, GAsyncResult *result, gpointer data)
{
  g_autoptr(CwLiveEar) ear = data;
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

static double full_scale_of(CwLiveEar *ear)
{
  CwRecord *vehicle = cw_session_get_vehicle(ear->session);
  CwRecord *microphone = vehicle ? cw_record_get_child(vehicle, "microphone") : NULL;
  double spl = microphone ? cw_record_get_number(microphone, "spl_at_full_scale") : (double)NAN;
  return isfinite(spl) ? spl + 3.0103
                       : 0; /* the sheet's is of a sine that fills the recorder: half a mean square of 1 */
}

/* Another ear at the desk ends. */
void cw_live_ear_start(CwLiveEar *ear)
{
  const CwSoundDevice *device = cw_sound_desk_find_device(ear->desk);
  CwLiveEar *other = cw_sound_desk_get_ear(ear->desk);
  CwSoundJob job;
  if (ear->live)
    return;
  if (other)
    cw_live_ear_stop(other);
  cw_sound_job_init(&job);
  job.device = cw_sound_desk_get_device(ear->desk);
  job.rate_hz = device ? device->rate_hz : PRACTICE_RATE_HZ;
  job.inputs = device ? MIN(device->inputs, 2) : 2;
  ear->live = cw_live_spectrum_new(job.rate_hz, FRACTION, LOW_HZ, HIGH_HZ);
  cw_live_spectrum_set_ballistics(ear->live, ear->ballistics);
  ear->full_scale_db = full_scale_of(ear);
  ear->timeout = g_timeout_add(UPDATE_MS, update, ear);
  cw_sound_desk_set_ear(ear->desk, ear);
  cw_sound_client_listen_async(cw_sound_desk_get_client(ear->desk), &job, NULL, on_listening,
                               g_object_ref(ear));
  g_signal_emit(ear, changed, 0);
}

gboolean cw_live_ear_is_listening(CwLiveEar *ear)
{
  return ear->live != NULL;
}

/* Forgets the highest. */
void cw_live_ear_reset(CwLiveEar *ear)
{
  if (ear->live)
    cw_live_spectrum_forget_highest(ear->live);
}

gboolean cw_live_ear_is_calibrated(CwLiveEar *ear)
{
  return ear->full_scale_db > 0;
}

guint cw_live_ear_read(CwLiveEar *ear, double **hz, double **level_db, double **peak_db)
{
  guint count = ear->live ? (guint)cw_live_spectrum_band_count(ear->live) : 0;
  const CwBand *bands = ear->live ? cw_live_spectrum_bands(ear->live) : NULL;
  double *level = g_new0(double, count), *peak = g_new0(double, count), *centre = g_new0(double, count);
  if (count)
    cw_live_spectrum_read(ear->live, level, peak);
  for (guint i = 0; i < count; i++) {
    centre[i] = bands[i].centre_hz;
    level[i] += ear->full_scale_db;
    peak[i] += ear->full_scale_db;
  }
  double **wanted[] = {hz, level_db, peak_db}, *got[] = {centre, level, peak};
  for (guint i = 0; i < G_N_ELEMENTS(wanted); i++)
    if (wanted[i])
      *wanted[i] = got[i];
    else
      g_free(got[i]);
  return count;
}
