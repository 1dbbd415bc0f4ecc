/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sound/client/client_private.h"

#include <string.h>

#define FEED_CHUNK_SAMPLES 8192u

/* CwClientWhat the helper says. */

static void on_devices(CwSoundClient *client, const CwMessageDevices *devices)
{
  if (!client->operation || client->operation->step != STEP_LIST)
    return;
  for (guint32 i = 0; i < client->devices.count; i++) {
    g_free(client->devices.device[i].name);
    g_free(client->devices.device[i].label);
  }
  g_free(client->devices.device);
  client->devices.count = devices->count;
  client->devices.device = g_new0(CwSoundDevice, MAX(devices->count, 1));
  for (guint32 i = 0; i < devices->count; i++) {
    client->devices.device[i] = devices->device[i];
    client->devices.device[i].name = g_strdup(devices->device[i].name);
    client->devices.device[i].label = g_strdup(devices->device[i].label);
  }
  cw_client_finish(client, NULL);
  g_signal_emit_by_name(client, "devices-changed");
}

static void on_done(CwSoundClient *client, const CwMessageDone *done)
{
  CwClientOperation *operation = client->operation;
  if (!operation || done->serial != operation->serial)
    return;
  if (operation->step == STEP_PRACTICE) {
    client->practice_told = TRUE;
    cw_client_forget_opened(client);
  } else if (operation->step == STEP_OPEN) {
    cw_client_forget_opened(client);
    client->opened = (CwClientOpened){
        g_strdup(operation->job.device), g_strdup(operation->job.input_device),
        operation->job.rate_hz,          done->rate_hz > 0 ? done->rate_hz : operation->job.rate_hz,
        operation->job.inputs,           cw_sound_job_outputs(&operation->job),
        operation->job.block_frames};
  } else {
    return;
  }
  cw_client_advance(client);
}

static void on_status(CwSoundClient *client, const CwMessageStatus *status)
{
  CwClientOperation *operation = client->operation;
  CwSoundLevels levels = {(CwSoundState)status->state, 0, 0, status->xruns, status->input_peak,
                          status->output_peak};
  if (operation && operation->step == STEP_PLAY && status->serial == operation->serial) {
    levels.position_frames = status->position_frames;
    if (!operation->job.loop)
      levels.total_frames = (guint32)MAX(operation->job.feed_frames, operation->job.record_frames);
  }
  cw_client_set_state(client, (CwSoundState)status->state);
  g_signal_emit_by_name(client, "levels", &levels);
}

/* Whether the play gets on: called for each status. */
static void note_progress(CwSoundClient *client, const CwMessageStatus *status)
{
  CwClientOperation *operation = client->operation;
  if (!operation || operation->step != STEP_PLAY || status->serial != operation->serial)
    return;
  if (status->position_frames != operation->position_frames) {
    operation->position_frames = status->position_frames;
    if (!operation->stopping)
      operation->moved_us = g_get_monotonic_time();
  }
}

static void on_recording(CwSoundClient *client, const CwMessageAudio *recording)
{
  CwClientOperation *operation = client->operation;
  if (!operation || operation->step != STEP_PLAY || recording->serial != operation->serial)
    return;
  const CwAudioChunk *audio = &recording->audio;
  CwSoundTake *take = operation->take;
  if (audio->channels != client->opened.inputs || audio->first_frame != take->frames ||
      audio->frames > operation->job.record_frames - take->frames) {
    cw_client_fail_in_words(client, "The sound helper sends a recording that was not asked for.");
    return;
  }
  for (guint32 frame = 0; frame < audio->frames; frame++)
    memcpy(take->sample + (take->frames + frame) * take->channels,
           audio->sample + (gsize)frame * audio->channels, take->channels * sizeof(float));
  take->frames += audio->frames;
  if (!operation->stopping)
    operation->moved_us = g_get_monotonic_time();
}

static void on_finished(CwSoundClient *client, const CwMessageFinished *finished)
{
  CwClientOperation *operation = client->operation;
  if (!operation || operation->step != STEP_PLAY || finished->serial != operation->serial)
    return;
  CwSoundTake *take = operation->take;
  take->xruns = finished->xruns;
  take->lost_frames = finished->lost_frames;
  take->limited_samples = finished->limited_samples;
  GError *error = NULL;
  if (finished->ending == CW_SOUND_ABANDONED)
    error = g_error_new_literal(CW_SOUND_ERROR, CW_SOUND_ERROR_STOPPED,
                                "The sound was faded out because the program did not answer for a second.");
  else if (finished->ending == CW_SOUND_STOPPED && !operation->job.loop)
    error = g_error_new_literal(CW_SOUND_ERROR, CW_SOUND_ERROR_STOPPED, "Stopped before it was complete.");
  else if (finished->ending == CW_SOUND_COMPLETE &&
           take->frames + take->lost_frames < operation->job.record_frames)
    take->lost_frames = (guint32)(operation->job.record_frames - take->frames);
  /* The device's end is told by the trouble that follows. */
  if (finished->ending != CW_SOUND_DEVICE_GONE)
    cw_client_finish(client, error);
}

static void on_trouble(CwSoundClient *client, const CwMessageTrouble *trouble)
{
  CwClientOperation *operation = client->operation;
  GError *error = g_error_new_literal(CW_SOUND_ERROR, (gint)trouble->code, trouble->text);
  if (trouble->serial == 0) {
    cw_client_fail(client, error);
  } else if (operation && trouble->serial == operation->serial) {
    if (operation->step == STEP_OPEN)
      cw_client_forget_opened(client);
    cw_client_finish(client, g_error_copy(error));
  }
  g_error_free(error);
}

static void on_message(const CwMessage *message, gpointer data)
{
  CwSoundClient *client = g_object_ref(data);
  switch (message->kind) {
  case CW_MESSAGE_DEVICES:
    on_devices(client, &message->devices);
    break;
  case CW_MESSAGE_DONE:
    on_done(client, &message->done);
    break;
  case CW_MESSAGE_STATUS:
    note_progress(client, &message->status);
    on_status(client, &message->status);
    break;
  case CW_MESSAGE_RECORDING:
    on_recording(client, &message->audio);
    break;
  case CW_MESSAGE_LIVE_BLOCK:
    if (client->live)
      g_signal_emit_by_name(client, "live-block", &message->audio.audio);
    break;
  case CW_MESSAGE_FINISHED:
    on_finished(client, &message->finished);
    break;
  case CW_MESSAGE_TROUBLE:
    on_trouble(client, &message->trouble);
    break;
  default:
    break;
  }
  g_object_unref(client);
}

static void on_broken(const GError *error, gpointer data)
{
  cw_client_fail(data, error);
}

/* Supplies the next chunk of the feed. */
static gboolean on_more(GByteArray *bytes, gpointer data)
{
  CwSoundClient *client = data;
  CwClientOperation *operation = client->operation;
  if (!operation || operation->step != STEP_PLAY || operation->fed_frames >= operation->job.feed_frames)
    return FALSE;
  guint32 channels = operation->job.route.count;
  gsize frames = MIN(FEED_CHUNK_SAMPLES / channels, operation->job.feed_frames - operation->fed_frames);
  CwMessage message = {.kind = CW_MESSAGE_FEED,
                       .audio = {operation->serial,
                                 {(guint32)operation->fed_frames, channels, (guint32)frames,
                                  (float *)operation->job.feed + operation->fed_frames * channels}}};
  operation->fed_frames += frames;
  operation->moved_us = g_get_monotonic_time();
  return cw_message_encode(&message, bytes);
}

const CwHelperHandlers cw_client_handlers = {on_message, on_broken, on_more};
