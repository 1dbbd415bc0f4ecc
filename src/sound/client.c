/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sound/client.h"
#include "sound/helper_link.h"
#include "sound/job_check.h"

#include <signal.h>
#include <string.h>

#define TICK_MS 100
/* Opening a device may take seconds while the helper goes on answering; it gives up by itself before this. */
#define ANSWER_PATIENCE_MS 12000
#define FEED_CHUNK_SAMPLES 8192u

typedef enum { WHAT_REFRESH, WHAT_LISTEN, WHAT_PLAY } What;
typedef enum { STEP_LIST, STEP_PRACTICE, STEP_OPEN, STEP_PLAY } Step;

/* The one thing the client is doing. */
typedef struct {
  What what;
  Step step;
  GTask *task;
  CwSoundJob job;
  CwSoundTake *take;
  guint32 serial;
  gsize fed_frames;
  guint32 position_frames;
  gint64 moved_us;   /* when it last got on */
  gboolean stopping; /* a helper told to stop has no other way of getting on */
  GCancellable *cancellable;
  gulong cancelled;
} Operation;

/* What the helper has open. */
typedef struct {
  char *device; /* NULL: nothing */
  char *input_device;
  double asked_hz, rate_hz;
  guint32 inputs, outputs, block_frames;
} Opened;

struct _CwSoundClient {
  GObject parent_instance;
  char *helper_path;
  GMainContext *context;
  CwHelperLink *link;
  char *practice;
  gboolean practice_told;
  Opened opened;
  CwMessageDevices devices;
  CwSoundState state;
  guint32 serial;
  Operation *operation;
  gboolean listening;
  GSource *tick;
  gint64 tick_us;
};

G_DEFINE_FINAL_TYPE(CwSoundClient, cw_sound_client, G_TYPE_OBJECT)

enum { DEVICES_CHANGED, STATE_CHANGED, LEVELS, LIVE_BLOCK, FAILED, SIGNALS };
static guint signals[SIGNALS];

static void advance(CwSoundClient *client);

static void set_state(CwSoundClient *client, CwSoundState state)
{
  if (client->operation && client->operation->step != STEP_PLAY)
    state = CW_SOUND_BUSY;
  if (state == client->state)
    return;
  client->state = state;
  g_signal_emit(client, signals[STATE_CHANGED], 0);
}

static void forget_opened(CwSoundClient *client)
{
  g_clear_pointer(&client->opened.device, g_free);
  g_clear_pointer(&client->opened.input_device, g_free);
  client->listening = FALSE;
}

static void drop_link(CwSoundClient *client, gboolean at_once)
{
  cw_helper_link_free(g_steal_pointer(&client->link), at_once);
  client->practice_told = FALSE;
  forget_opened(client);
}

/* Ends the running operation: with the error (taken), or well. */
static void finish_operation(CwSoundClient *client, GError *error)
{
  Operation *operation = g_steal_pointer(&client->operation);
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
  set_state(client, client->link && client->opened.device ? CW_SOUND_IDLE : CW_SOUND_CLOSED);
}

/* The helper is of no more use: tell everyone, and let the next call start another. */
static void helper_failed(CwSoundClient *client, const GError *error)
{
  g_object_ref(client);
  drop_link(client, TRUE);
  if (client->operation)
    finish_operation(client, g_error_copy(error));
  else
    set_state(client, CW_SOUND_CLOSED);
  g_signal_emit(client, signals[FAILED], 0, error->message);
  g_object_unref(client);
}

static void helper_failed_in_words(CwSoundClient *client, const char *words)
{
  GError *error = g_error_new_literal(CW_SOUND_ERROR, CW_SOUND_ERROR_HELPER, words);
  helper_failed(client, error);
  g_error_free(error);
}

/* What the helper says. */

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
  finish_operation(client, NULL);
  g_signal_emit(client, signals[DEVICES_CHANGED], 0);
}

static void on_done(CwSoundClient *client, const CwMessageDone *done)
{
  Operation *operation = client->operation;
  if (!operation || done->serial != operation->serial)
    return;
  if (operation->step == STEP_PRACTICE) {
    client->practice_told = TRUE;
    forget_opened(client);
  } else if (operation->step == STEP_OPEN) {
    forget_opened(client);
    client->opened =
        (Opened){g_strdup(operation->job.device), g_strdup(operation->job.input_device),
                 operation->job.rate_hz,          done->rate_hz > 0 ? done->rate_hz : operation->job.rate_hz,
                 operation->job.inputs,           cw_sound_job_outputs(&operation->job),
                 operation->job.block_frames};
  } else {
    return;
  }
  advance(client);
}

static void on_status(CwSoundClient *client, const CwMessageStatus *status)
{
  Operation *operation = client->operation;
  CwSoundLevels levels = {(CwSoundState)status->state, 0, 0, status->xruns, status->input_peak,
                          status->output_peak};
  if (operation && operation->step == STEP_PLAY && status->serial == operation->serial) {
    levels.position_frames = status->position_frames;
    if (!operation->job.loop)
      levels.total_frames = (guint32)MAX(operation->job.feed_frames, operation->job.record_frames);
  }
  set_state(client, (CwSoundState)status->state);
  g_signal_emit(client, signals[LEVELS], 0, &levels);
}

/* Whether the play gets on: called for each status. */
static void note_progress(CwSoundClient *client, const CwMessageStatus *status)
{
  Operation *operation = client->operation;
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
  Operation *operation = client->operation;
  if (!operation || operation->step != STEP_PLAY || recording->serial != operation->serial)
    return;
  const CwAudioChunk *audio = &recording->audio;
  CwSoundTake *take = operation->take;
  if (audio->channels != client->opened.inputs || audio->first_frame != take->frames ||
      audio->frames > operation->job.record_frames - take->frames) {
    helper_failed_in_words(client, "The sound helper sends a recording that was not asked for.");
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
  Operation *operation = client->operation;
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
    finish_operation(client, error);
}

static void on_trouble(CwSoundClient *client, const CwMessageTrouble *trouble)
{
  Operation *operation = client->operation;
  GError *error = g_error_new_literal(CW_SOUND_ERROR, (gint)trouble->code, trouble->text);
  if (trouble->serial == 0) {
    helper_failed(client, error);
  } else if (operation && trouble->serial == operation->serial) {
    if (operation->step == STEP_OPEN)
      forget_opened(client);
    finish_operation(client, g_error_copy(error));
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
    if (client->listening)
      g_signal_emit(client, signals[LIVE_BLOCK], 0, &message->audio.audio);
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
  helper_failed(data, error);
}

/* Supplies the next chunk of the feed. */
static gboolean on_more(GByteArray *bytes, gpointer data)
{
  CwSoundClient *client = data;
  Operation *operation = client->operation;
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

/* Doing things, one step after the other. */

static void on_stop(CwSoundClient *client)
{
  Operation *operation = client->operation;
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
    forget_opened(client);
    finish_operation(client,
                     g_error_new_literal(CW_SOUND_ERROR, CW_SOUND_ERROR_STOPPED, "Stopped before it began."));
  }
}

static gboolean on_tick(gpointer data)
{
  CwSoundClient *client = data;
  Operation *operation = client->operation;
  gint64 now_us = g_get_monotonic_time();
  if (now_us - client->tick_us > 3 * TICK_MS * 1000) /* this loop was held up, not the helper */
    operation->moved_us = MAX(operation->moved_us, now_us - CW_HELPER_PATIENCE_MS * 500);
  client->tick_us = now_us;
  gint64 patience_ms = operation->step == STEP_PLAY ? CW_HELPER_PATIENCE_MS : ANSWER_PATIENCE_MS;
  if (now_us - operation->moved_us <= patience_ms * 1000)
    return G_SOURCE_CONTINUE;
  helper_failed_in_words(client, operation->step == STEP_PLAY
                                     ? "The sound helper does not get on with the sound."
                                     : "The sound helper does not get the device open.");
  return G_SOURCE_REMOVE;
}

static gboolean ensure_link(CwSoundClient *client, GError **error)
{
  static const CwHelperHandlers handlers = {on_message, on_broken, on_more};
  if (client->link)
    return TRUE;
  g_main_context_push_thread_default(client->context);
  client->link = cw_helper_link_start(client->helper_path, &handlers, client, error);
  g_main_context_pop_thread_default(client->context);
  return client->link != NULL;
}

static gboolean is_open_for(CwSoundClient *client, const CwSoundJob *job)
{
  const Opened *opened = &client->opened;
  return opened->device && strcmp(opened->device, job->device) == 0 &&
         strcmp(opened->input_device, job->input_device) == 0 && opened->asked_hz == job->rate_hz &&
         opened->block_frames == job->block_frames && opened->inputs >= job->inputs &&
         opened->outputs >= cw_sound_job_outputs(job);
}

static void send_step(CwSoundClient *client, Step step, CwMessage *message)
{
  client->operation->step = step;
  client->operation->moved_us = g_get_monotonic_time();
  cw_helper_link_send(client->link, message);
  set_state(client, step == STEP_PLAY ? CW_SOUND_LOADING : CW_SOUND_BUSY);
}

static void begin_play(CwSoundClient *client)
{
  Operation *operation = client->operation;
  const CwSoundJob *job = &operation->job;
  operation->take = g_new0(CwSoundTake, 1);
  operation->take->rate_hz = client->opened.rate_hz;
  operation->take->channels = job->inputs;
  if (job->record_frames > 0) {
    operation->take->sample = g_try_new0(float, job->record_frames * job->inputs);
    if (!operation->take->sample) {
      finish_operation(client,
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
}

/* Sends the next step that is still missing. */
static void advance(CwSoundClient *client)
{
  Operation *operation = client->operation;
  GError *error = NULL;
  if (!ensure_link(client, &error)) {
    finish_operation(client, error);
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
    cw_helper_link_send(client->link, &(CwMessage){.kind = CW_MESSAGE_LIVE, .live = {1}});
    finish_operation(client, NULL);
  } else {
    begin_play(client);
  }
}

static gboolean stop_in_context(gpointer data)
{
  on_stop(data);
  return G_SOURCE_REMOVE;
}

void cw_sound_client_stop(CwSoundClient *client)
{
  g_return_if_fail(CW_IS_SOUND_CLIENT(client));
  if (g_main_context_is_owner(client->context)) {
    on_stop(client);
    return;
  }
  GSource *source = g_idle_source_new();
  g_source_set_priority(source, G_PRIORITY_HIGH);
  g_source_set_callback(source, stop_in_context, g_object_ref(client), g_object_unref);
  g_source_attach(source, client->context);
  g_source_unref(source);
}

static gboolean advance_in_context(gpointer data)
{
  CwSoundClient *client = data;
  if (client->operation && !client->operation->serial)
    advance(client);
  return G_SOURCE_REMOVE;
}

static void begin(CwSoundClient *client, What what, const CwSoundJob *job, GTask *task,
                  GCancellable *cancellable)
{
  GError *error = NULL;
  if (client->operation)
    error = g_error_new_literal(CW_SOUND_ERROR, CW_SOUND_ERROR_REQUEST,
                                "Another sound is still being played or opened.");
  else if (job)
    cw_sound_job_check(job, &error);
  if (error || g_task_return_error_if_cancelled(task)) {
    if (error)
      g_task_return_error(task, error);
    g_object_unref(task);
    return;
  }
  Operation *operation = g_new0(Operation, 1);
  operation->what = what;
  operation->step = STEP_LIST;
  operation->task = task;
  operation->moved_us = client->tick_us = g_get_monotonic_time();
  if (job)
    cw_sound_job_copy(&operation->job, job);
  client->operation = operation;
  client->tick = g_timeout_source_new(TICK_MS);
  g_source_set_callback(client->tick, on_tick, client, NULL);
  g_source_attach(client->tick, client->context);
  if (cancellable) {
    operation->cancellable = g_object_ref(cancellable);
    operation->cancelled =
        g_signal_connect_swapped(cancellable, "cancelled", G_CALLBACK(cw_sound_client_stop), client);
  }
  set_state(client, CW_SOUND_BUSY);
  /* From the loop, so that no callback or signal comes before this call has returned. */
  GSource *source = g_idle_source_new();
  g_source_set_priority(source, G_PRIORITY_DEFAULT);
  g_source_set_callback(source, advance_in_context, g_object_ref(client), g_object_unref);
  g_source_attach(source, client->context);
  g_source_unref(source);
}

void cw_sound_client_refresh_async(CwSoundClient *client, GCancellable *cancellable,
                                   GAsyncReadyCallback callback, gpointer user_data)
{
  g_return_if_fail(CW_IS_SOUND_CLIENT(client));
  if (!client->operation)
    drop_link(client, FALSE);
  GTask *task = g_task_new(client, cancellable, callback, user_data);
  g_task_set_check_cancellable(task, FALSE);
  begin(client, WHAT_REFRESH, NULL, task, cancellable);
}

gboolean cw_sound_client_refresh_finish(CwSoundClient *client, GAsyncResult *result, GError **error)
{
  g_return_val_if_fail(g_task_is_valid(result, client), FALSE);
  return g_task_propagate_boolean(G_TASK(result), error);
}

void cw_sound_client_play_async(CwSoundClient *client, const CwSoundJob *job, GCancellable *cancellable,
                                GAsyncReadyCallback callback, gpointer user_data)
{
  g_return_if_fail(CW_IS_SOUND_CLIENT(client) && job != NULL);
  GTask *task = g_task_new(client, cancellable, callback, user_data);
  g_task_set_check_cancellable(task, FALSE);
  begin(client, WHAT_PLAY, job, task, cancellable);
}

CwSoundTake *cw_sound_client_play_finish(CwSoundClient *client, GAsyncResult *result, GError **error)
{
  g_return_val_if_fail(g_task_is_valid(result, client), NULL);
  return g_task_propagate_pointer(G_TASK(result), error);
}

void cw_sound_client_listen_async(CwSoundClient *client, const CwSoundJob *job, GCancellable *cancellable,
                                  GAsyncReadyCallback callback, gpointer user_data)
{
  g_return_if_fail(CW_IS_SOUND_CLIENT(client) && job != NULL);
  GTask *task = g_task_new(client, cancellable, callback, user_data);
  g_task_set_check_cancellable(task, FALSE);
  begin(client, WHAT_LISTEN, job, task, cancellable);
}

gboolean cw_sound_client_listen_finish(CwSoundClient *client, GAsyncResult *result, GError **error)
{
  return cw_sound_client_refresh_finish(client, result, error);
}

void cw_sound_client_unlisten(CwSoundClient *client)
{
  g_return_if_fail(CW_IS_SOUND_CLIENT(client));
  if (client->listening && client->link)
    cw_helper_link_send(client->link, &(CwMessage){.kind = CW_MESSAGE_LIVE, .live = {0}});
  client->listening = FALSE;
}

void cw_sound_client_set_practice(CwSoundClient *client, const char *setup)
{
  g_return_if_fail(CW_IS_SOUND_CLIENT(client));
  if (!setup)
    setup = "{}";
  if (g_strcmp0(client->practice, setup) == 0)
    return;
  g_free(client->practice);
  client->practice = g_strdup(setup);
  client->practice_told = FALSE;
}

const CwSoundDevice *cw_sound_client_get_devices(CwSoundClient *client, guint *count)
{
  g_return_val_if_fail(CW_IS_SOUND_CLIENT(client), NULL);
  if (count)
    *count = client->devices.count;
  return client->devices.device;
}

CwSoundState cw_sound_client_get_state(CwSoundClient *client)
{
  g_return_val_if_fail(CW_IS_SOUND_CLIENT(client), CW_SOUND_CLOSED);
  return client->state;
}

static void on_blocking_ready(GObject *source, GAsyncResult *result, gpointer data)
{
  *(GAsyncResult **)data = g_object_ref(result);
}

CwSoundTake *cw_sound_play_and_record(CwSoundClient *client, const CwSoundJob *job, GError **error)
{
  g_return_val_if_fail(CW_IS_SOUND_CLIENT(client) && job != NULL, NULL);
  GAsyncResult *result = NULL;
  g_main_context_push_thread_default(client->context);
  cw_sound_client_play_async(client, job, NULL, on_blocking_ready, &result);
  while (!result)
    g_main_context_iteration(client->context, TRUE);
  g_main_context_pop_thread_default(client->context);
  CwSoundTake *take = cw_sound_client_play_finish(client, result, error);
  g_object_unref(result);
  return take;
}

static char *find_helper(void)
{
  const char *told = g_getenv("CABINWRIGHT_SOUND_HELPER");
  if (told && *told)
    return g_strdup(told);
  char *self = g_file_read_link("/proc/self/exe", NULL);
  if (self) {
    char *folder = g_path_get_dirname(self);
    char *beside = g_build_filename(folder, "cabinwright-sound", NULL);
    g_free(self);
    g_free(folder);
    if (g_file_test(beside, G_FILE_TEST_IS_EXECUTABLE))
      return beside;
    g_free(beside);
  }
  return g_build_filename(CW_LIBEXEC_DIR, "cabinwright-sound", NULL);
}

CwSoundClient *cw_sound_client_new(const char *helper_path)
{
  CwSoundClient *client = g_object_new(CW_TYPE_SOUND_CLIENT, NULL);
  client->helper_path = helper_path ? g_strdup(helper_path) : find_helper();
  return client;
}

static void cw_sound_client_init(CwSoundClient *client)
{
  /* A helper that dies while being written to must not take the program with it. */
  signal(SIGPIPE, SIG_IGN);
  client->context = g_main_context_ref_thread_default();
}

static void cw_sound_client_dispose(GObject *object)
{
  CwSoundClient *client = CW_SOUND_CLIENT(object);
  if (client->operation)
    finish_operation(client,
                     g_error_new_literal(CW_SOUND_ERROR, CW_SOUND_ERROR_STOPPED, "The program is closing."));
  if (client->link)
    drop_link(client, FALSE);
  G_OBJECT_CLASS(cw_sound_client_parent_class)->dispose(object);
}

static void cw_sound_client_finalize(GObject *object)
{
  CwSoundClient *client = CW_SOUND_CLIENT(object);
  CwMessage devices = {.kind = CW_MESSAGE_DEVICES, .devices = client->devices};
  cw_message_clear(&devices);
  forget_opened(client);
  g_free(client->practice);
  g_free(client->helper_path);
  g_main_context_unref(client->context);
  G_OBJECT_CLASS(cw_sound_client_parent_class)->finalize(object);
}

static void cw_sound_client_class_init(CwSoundClientClass *klass)
{
  GObjectClass *object_class = G_OBJECT_CLASS(klass);
  object_class->dispose = cw_sound_client_dispose;
  object_class->finalize = cw_sound_client_finalize;
  const GType type = G_TYPE_FROM_CLASS(klass);
  signals[DEVICES_CHANGED] =
      g_signal_new("devices-changed", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
  signals[STATE_CHANGED] =
      g_signal_new("state-changed", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
  signals[LEVELS] =
      g_signal_new("levels", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 1, G_TYPE_POINTER);
  signals[LIVE_BLOCK] = g_signal_new("live-block", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE,
                                     1, G_TYPE_POINTER);
  signals[FAILED] =
      g_signal_new("failed", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 1, G_TYPE_STRING);
}
