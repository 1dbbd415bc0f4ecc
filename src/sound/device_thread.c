/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sound/device_thread.h"

#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

typedef struct {
  guint32 serial;
  CwMessageKind kind; /* CW_MESSAGE_QUIT closes */
  char *text;
  CwMessageOpen open; /* its names are owned */
} Request;

struct CwDeviceThread {
  GAsyncQueue *requests, *answers, *closed;
  int event;
  /* The thread's own. */
  const CwBackend *backend;
  gpointer stream;
  CwEngine *engine;
};

static void clear_device(gpointer data)
{
  CwSoundDevice *device = data;
  g_free(device->name);
  g_free(device->label);
}

void cw_device_answer_free(CwDeviceAnswer *answer)
{
  if (!answer)
    return;
  g_clear_error(&answer->error);
  if (answer->devices)
    g_array_unref(answer->devices);
  g_free(answer);
}

static void close_open(CwDeviceThread *thread)
{
  if (!thread->stream)
    return;
  thread->backend->close(thread->stream);
  thread->stream = NULL;
  g_clear_pointer(&thread->engine, cw_engine_free);
}

static void do_list(CwDeviceAnswer *answer)
{
  answer->devices = g_array_new(FALSE, TRUE, sizeof(CwSoundDevice));
  g_array_set_clear_func(answer->devices, clear_device);
  /* The bay comes first and is there even where the sound system is not. */
  cw_practice_backend.list(answer->devices, NULL);
  GError *error = NULL;
  if (!cw_portaudio_backend.list(answer->devices, &error)) {
    g_printerr("%s\n", error->message);
    g_error_free(error);
  }
}

static void do_open(CwDeviceThread *thread, const Request *request, CwDeviceAnswer *answer)
{
  close_open(thread);
  answer->practice = strcmp(request->open.device, CW_SOUND_PRACTICE_DEVICE) == 0;
  thread->backend = answer->practice ? &cw_practice_backend : &cw_portaudio_backend;
  thread->engine = cw_engine_new(request->open.rate_hz, request->open.inputs, request->open.outputs);
  thread->stream = thread->backend->open(&request->open, thread->engine, &answer->error);
  if (thread->stream)
    answer->engine = thread->engine;
  else
    g_clear_pointer(&thread->engine, cw_engine_free);
}

static gpointer run(gpointer data)
{
  CwDeviceThread *thread = data;
  for (;;) {
    Request *request = g_async_queue_pop(thread->requests);
    CwDeviceAnswer *answer = g_new0(CwDeviceAnswer, 1);
    answer->serial = request->serial;
    answer->kind = request->kind;
    if (request->kind == CW_MESSAGE_LIST) {
      do_list(answer);
    } else if (request->kind == CW_MESSAGE_OPEN) {
      do_open(thread, request, answer);
    } else {
      close_open(thread);
      if (request->kind == CW_MESSAGE_PRACTICE)
        cw_practice_backend_set_up(request->text, &answer->error);
    }
    gboolean close = request->kind == CW_MESSAGE_QUIT;
    g_free(request->text);
    g_free(request->open.device);
    g_free(request->open.input_device);
    g_free(request);
    g_async_queue_push(close ? thread->closed : thread->answers, answer);
    if (!close && eventfd_write(thread->event, 1) != 0)
      g_printerr("The device thread cannot wake the helper.\n");
  }
  return NULL;
}

CwDeviceThread *cw_device_thread_new(void)
{
  CwDeviceThread *thread = g_new0(CwDeviceThread, 1);
  thread->requests = g_async_queue_new();
  thread->answers = g_async_queue_new();
  thread->closed = g_async_queue_new();
  thread->event = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
  g_thread_unref(g_thread_new("devices", run, thread));
  return thread;
}

void cw_device_thread_ask(CwDeviceThread *thread, const CwMessage *message)
{
  g_return_if_fail(thread != NULL && message != NULL);
  Request *request = g_new0(Request, 1);
  request->kind = message->kind;
  if (message->kind == CW_MESSAGE_PRACTICE) {
    request->serial = message->practice.serial;
    request->text = g_strdup(message->practice.text);
  } else if (message->kind == CW_MESSAGE_OPEN) {
    request->serial = message->open.serial;
    request->open = message->open;
    request->open.device = g_strdup(message->open.device);
    request->open.input_device = g_strdup(message->open.input_device);
  }
  g_async_queue_push(thread->requests, request);
}

gboolean cw_device_thread_close(CwDeviceThread *thread, guint patience_ms)
{
  g_return_val_if_fail(thread != NULL, FALSE);
  Request *request = g_new0(Request, 1);
  request->kind = CW_MESSAGE_QUIT;
  g_async_queue_push(thread->requests, request);
  CwDeviceAnswer *answer = g_async_queue_timeout_pop(thread->closed, (guint64)patience_ms * 1000);
  cw_device_answer_free(answer);
  return answer != NULL;
}

int cw_device_thread_get_fd(CwDeviceThread *thread)
{
  return thread->event;
}

CwDeviceAnswer *cw_device_thread_take(CwDeviceThread *thread)
{
  eventfd_t count;
  CwDeviceAnswer *answer = g_async_queue_try_pop(thread->answers);
  if (!answer)
    eventfd_read(thread->event, &count);
  return answer;
}
