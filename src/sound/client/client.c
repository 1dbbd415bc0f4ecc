/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sound/client/client_private.h"

#include <signal.h>
#include <string.h>

G_DEFINE_FINAL_TYPE(CwSoundClient, cw_sound_client, G_TYPE_OBJECT)

static gboolean stop_in_context(gpointer data)
{
  cw_client_halt(data);
  return G_SOURCE_REMOVE;
}

void cw_sound_client_stop(CwSoundClient *client)
{
  g_return_if_fail(CW_IS_SOUND_CLIENT(client));
  if (g_main_context_is_owner(client->context)) {
    cw_client_halt(client);
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
    cw_client_advance(client);
  return G_SOURCE_REMOVE;
}

static void begin(CwSoundClient *client, CwClientWhat what, const CwSoundJob *job, GTask *task,
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
  CwClientOperation *operation = g_new0(CwClientOperation, 1);
  operation->what = what;
  operation->step = STEP_LIST;
  operation->task = task;
  operation->moved_us = client->tick_us = g_get_monotonic_time();
  if (job)
    cw_sound_job_copy(&operation->job, job);
  client->operation = operation;
  client->tick = g_timeout_source_new(CW_CLIENT_TICK_MS);
  g_source_set_callback(client->tick, cw_client_tick, client, NULL);
  g_source_attach(client->tick, client->context);
  if (cancellable) {
    operation->cancellable = g_object_ref(cancellable);
    operation->cancelled =
        g_signal_connect_swapped(cancellable, "cancelled", G_CALLBACK(cw_sound_client_stop), client);
  }
  cw_client_set_state(client, CW_SOUND_BUSY);
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
    cw_client_drop_link(client, FALSE);
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
  client->listening = FALSE;
  cw_client_settle_live(client);
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
  client->handlers = &cw_client_handlers;
}

static void cw_sound_client_dispose(GObject *object)
{
  CwSoundClient *client = CW_SOUND_CLIENT(object);
  if (client->operation)
    cw_client_finish(client,
                     g_error_new_literal(CW_SOUND_ERROR, CW_SOUND_ERROR_STOPPED, "The program is closing."));
  if (client->link)
    cw_client_drop_link(client, FALSE);
  G_OBJECT_CLASS(cw_sound_client_parent_class)->dispose(object);
}

static void cw_sound_client_finalize(GObject *object)
{
  CwSoundClient *client = CW_SOUND_CLIENT(object);
  CwMessage devices = {.kind = CW_MESSAGE_DEVICES, .devices = client->devices};
  cw_message_clear(&devices);
  cw_client_forget_opened(client);
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
  const struct {
    const char *name;
    GType argument; /* G_TYPE_NONE for none */
  } signals[] = {{"devices-changed", G_TYPE_NONE},
                 {"state-changed", G_TYPE_NONE},
                 {"levels", G_TYPE_POINTER},
                 {"live-block", G_TYPE_POINTER},
                 {"failed", G_TYPE_STRING}};
  for (guint i = 0; i < G_N_ELEMENTS(signals); i++)
    g_signal_new(signals[i].name, type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE,
                 signals[i].argument == G_TYPE_NONE ? 0 : 1, signals[i].argument);
}
