/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sound/client/client_private.h"

#include <string.h>

/* Opening a device may take seconds while the helper goes on answering; it gives up by itself before this. */
#define ANSWER_PATIENCE_MS 12000
/* A helper that is told to stop has faded out long before; one that has not is ended by force. */
#define STOP_PATIENCE_MS 300

void cw_client_set_state(CwSoundClient *client, CwSoundState state)
{
  if (client->operation && client->operation->step != STEP_PLAY)
    state = CW_SOUND_BUSY;
  if (state == client->state)
    return;
  client->state = state;
  g_signal_emit_by_name(client, "state-changed");
}

void cw_client_settle_live(CwSoundClient *client)
{
  const CwClientOperation *operation = client->operation;
  gboolean live = client->link &&
                  (client->listening || (operation && operation->step == STEP_PLAY && operation->job.heard));
  if (live == client->live)
    return;
  client->live = live;
  if (client->link)
    cw_helper_link_send(client->link, &(CwMessage){.kind = CW_MESSAGE_LIVE, .live = {live ? 1 : 0}});
}

void cw_client_forget_opened(CwSoundClient *client)
{
  g_clear_pointer(&client->opened.device, g_free);
  g_clear_pointer(&client->opened.input_device, g_free);
  client->listening = client->live = FALSE; /* the helper forgets it with the device */
}

void cw_client_drop_link(CwSoundClient *client, gboolean at_once)
{
  cw_helper_link_free(g_steal_pointer(&client->link), at_once);
  client->practice_told = FALSE;
  cw_client_forget_opened(client);
}

void cw_client_finish(CwSoundClient *client, GError *error)
{
  CwClientOperation *operation = g_steal_pointer(&client->operation);
  if (!operation) {
    g_clear_error(&error);
    return;
  }
  if (client->tick) {
    g_source_destroy(client->tick);
    g_clear_pointer(&client->tick, g_source_unref);
  }
  if (operation->cancellable)
    g_signal_handler_disconnect(operation->cancellable, operation->cancelled);
  g_clear_object(&operation->cancellable);
  if (error)
    g_task_return_error(operation->task, error);
  else if (operation->what == WHAT_PLAY)
    g_task_return_pointer(operation->task, g_steal_pointer(&operation->take),
                          (GDestroyNotify)cw_sound_take_free);
  else
    g_task_return_boolean(operation->task, TRUE);
  g_object_unref(operation->task);
  cw_sound_take_free(operation->take);
  cw_sound_job_clear(&operation->job);
  g_free(operation);
  cw_client_settle_live(client);
  cw_client_set_state(client, client->link && client->opened.device ? CW_SOUND_IDLE : CW_SOUND_CLOSED);
}

void cw_client_fail(CwSoundClient *client, const GError *error)
{
  g_object_ref(client);
  cw_client_drop_link(client, TRUE);
  if (client->operation)
    cw_client_finish(client, g_error_copy(error));
  else
    cw_client_set_state(client, CW_SOUND_CLOSED);
  g_signal_emit_by_name(client, "failed", error->message);
  g_object_unref(client);
}

void cw_client_fail_in_words(CwSoundClient *client, const char *words)
{
  GError *error = g_error_new_literal(CW_SOUND_ERROR, CW_SOUND_ERROR_HELPER, words);
  cw_client_fail(client, error);
  g_error_free(error);
}

/* Doing things, one step after the other. */

void cw_client_halt(CwSoundClient *client)
{
  CwClientOperation *operation = client->operation;
  if (!operation)
    return;
  if (operation->step == STEP_PLAY) {
    if (operation->stopping)
      return;
    operation->stopping = TRUE;
    CwMessage message = {.kind = CW_MESSAGE_STOP};
    cw_helper_link_send(client->link, &message);
    operation->fed_frames = operation->job.feed_frames;
    operation->moved_us = g_get_monotonic_time();
  } else {
    /* Whatever the helper is opening, it will not be relied upon. */
    cw_client_forget_opened(client);
    cw_client_finish(client,
                     g_error_new_literal(CW_SOUND_ERROR, CW_SOUND_ERROR_STOPPED, "Stopped before it began."));
  }
}

static gint64 patience_of(const CwClientOperation *operation)
{
  if (operation->step != STEP_PLAY)
    return ANSWER_PATIENCE_MS;
  return operation->stopping ? STOP_PATIENCE_MS : CW_HELPER_PATIENCE_MS;
}

static const char *words_of(const CwClientOperation *operation)
{
  if (operation->step != STEP_PLAY)
    return "The sound helper does not get the device open.";
  return operation->stopping ? "The sound helper did not stop and was ended by force."
                             : "The sound helper does not get on with the sound.";
}

gboolean cw_client_tick(gpointer data)
{
  CwSoundClient *client = data;
  CwClientOperation *operation = client->operation;
  gint64 now_us = g_get_monotonic_time(), patience_us = 1000 * patience_of(operation);
  if (now_us - client->tick_us > 3 * CW_CLIENT_TICK_MS * 1000) /* this loop was held up, not the helper */
    operation->moved_us = MAX(operation->moved_us, now_us - patience_us / 2);
  client->tick_us = now_us;
  if (now_us - operation->moved_us <= patience_us)
    return G_SOURCE_CONTINUE;
  cw_client_fail_in_words(client, words_of(operation));
  return G_SOURCE_REMOVE;
}

static gboolean ensure_link(CwSoundClient *client, GError **error)
{
  if (client->link)
    return TRUE;
  g_main_context_push_thread_default(client->context);
  client->link = cw_helper_link_start(client->helper_path, client->handlers, client, error);
  g_main_context_pop_thread_default(client->context);
  return client->link != NULL;
}

static gboolean is_open_for(CwSoundClient *client, const CwSoundJob *job)
{
  const CwClientOpened *opened = &client->opened;
  return opened->device && strcmp(opened->device, job->device) == 0 &&
         strcmp(opened->input_device, job->input_device) == 0 && opened->asked_hz == job->rate_hz &&
         opened->block_frames == job->block_frames && opened->inputs >= job->inputs &&
         opened->outputs >= cw_sound_job_outputs(job);
}

static void send_step(CwSoundClient *client, CwClientStep step, CwMessage *message)
{
  client->operation->step = step;
  client->operation->moved_us = g_get_monotonic_time();
  cw_helper_link_send(client->link, message);
  cw_client_set_state(client, step == STEP_PLAY ? CW_SOUND_LOADING : CW_SOUND_BUSY);
}

static void begin_play(CwSoundClient *client)
{
  CwClientOperation *operation = client->operation;
  const CwSoundJob *job = &operation->job;
  operation->take = g_new0(CwSoundTake, 1);
  operation->take->rate_hz = client->opened.rate_hz;
  operation->take->channels = job->inputs;
  if (job->record_frames > 0) {
    operation->take->sample = g_try_new0(float, job->record_frames * job->inputs);
    if (!operation->take->sample) {
      cw_client_finish(client,
                       g_error_new_literal(CW_SOUND_ERROR, CW_SOUND_ERROR_REQUEST,
                                           "Sound job: record_frames: not enough memory for the recording"));
      return;
    }
  }
  CwMessage message = {.kind = CW_MESSAGE_PLAY,
                       .play = {operation->serial, (guint32)job->feed_frames, job->route, job->protect_hz,
                                job->gain_db, job->limit_dbfs, job->rise_ms, job->loop ? 1 : 0,
                                (guint32)job->record_frames}};
  if (message.play.protect_hz.count == 0) {
    message.play.protect_hz.count = job->route.count;
    memset(message.play.protect_hz.value, 0, sizeof message.play.protect_hz.value);
  }
  send_step(client, STEP_PLAY, &message);
  cw_client_settle_live(client);
}

void cw_client_advance(CwSoundClient *client)
{
  CwClientOperation *operation = client->operation;
  GError *error = NULL;
  if (!ensure_link(client, &error)) {
    cw_client_finish(client, error);
    return;
  }
  operation->serial = ++client->serial ? client->serial : ++client->serial; /* 0 means no request */
  const CwSoundJob *job = &operation->job;
  if (operation->what == WHAT_REFRESH) {
    send_step(client, STEP_LIST, &(CwMessage){.kind = CW_MESSAGE_LIST});
  } else if (client->practice && !client->practice_told &&
             strcmp(job->device, CW_SOUND_PRACTICE_DEVICE) == 0) {
    send_step(client, STEP_PRACTICE,
              &(CwMessage){.kind = CW_MESSAGE_PRACTICE, .practice = {operation->serial, client->practice}});
  } else if (!is_open_for(client, job)) {
    send_step(
        client, STEP_OPEN,
        &(CwMessage){.kind = CW_MESSAGE_OPEN,
                     .open = {operation->serial, (char *)job->device, (char *)job->input_device, job->rate_hz,
                              job->inputs, cw_sound_job_outputs(job), job->block_frames}});
  } else if (operation->what == WHAT_LISTEN) {
    client->listening = TRUE;
    cw_client_settle_live(client);
    cw_client_finish(client, NULL);
  } else {
    begin_play(client);
  }
}
