/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sound/helper/device_thread.h"

#include <pthread.h>
#include <string.h>
#include <sys/eventfd.h>
#include <time.h>
#include <unistd.h>

typedef struct {
  guint32 serial;
  CwMessageKind kind; /* CW_MESSAGE_QUIT closes */
  char *text;
  CwMessageOpen open; /* its names are owned */
} Request;

/* Plain POSIX locks rather than GLib's, so that a thread sanitizer sees them. */
struct CwDeviceThread {
  pthread_mutex_t lock;
  pthread_cond_t asked, closed;
  GQueue requests, answers; /* under the lock */
  guint closings;           /* under the lock: how often it has closed for good */
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

static void push_request(CwDeviceThread *thread, Request *request)
{
  pthread_mutex_lock(&thread->lock);
  g_queue_push_tail(&thread->requests, request);
  pthread_cond_signal(&thread->asked);
  pthread_mutex_unlock(&thread->lock);
}

static Request *wait_for_request(CwDeviceThread *thread)
{
  pthread_mutex_lock(&thread->lock);
  while (g_queue_is_empty(&thread->requests))
    pthread_cond_wait(&thread->asked, &thread->lock);
  Request *request = g_queue_pop_head(&thread->requests);
  pthread_mutex_unlock(&thread->lock);
  return request;
}

static void push_answer(CwDeviceThread *thread, CwDeviceAnswer *answer)
{
  pthread_mutex_lock(&thread->lock);
  g_queue_push_tail(&thread->answers, answer);
  pthread_mutex_unlock(&thread->lock);
  if (eventfd_write(thread->event, 1) != 0)
    g_printerr("The device thread cannot wake the helper.\n");
}

static void say_closed(CwDeviceThread *thread)
{
  pthread_mutex_lock(&thread->lock);
  thread->closings++;
  pthread_cond_signal(&thread->closed);
  pthread_mutex_unlock(&thread->lock);
}

static CwDeviceAnswer *serve(CwDeviceThread *thread, const Request *request)
{
  CwDeviceAnswer *answer = g_new0(CwDeviceAnswer, 1);
  answer->serial = request->serial;
  answer->kind = request->kind;
  if (request->kind == CW_MESSAGE_LIST) {
    do_list(answer);
  } else if (request->kind == CW_MESSAGE_OPEN) {
    do_open(thread, request, answer);
  } else {
    close_open(thread);
    cw_practice_backend_set_up(request->text, &answer->error);
  }
  return answer;
}

static void *run(void *data)
{
  CwDeviceThread *thread = data;
  for (;;) {
    Request *request = wait_for_request(thread);
    if (request->kind == CW_MESSAGE_QUIT) {
      close_open(thread);
      say_closed(thread);
    } else {
      push_answer(thread, serve(thread, request));
    }
    g_free(request->text);
    g_free(request->open.device);
    g_free(request->open.input_device);
    g_free(request);
  }
  return NULL;
}

CwDeviceThread *cw_device_thread_new(void)
{
  CwDeviceThread *thread = g_new0(CwDeviceThread, 1);
  pthread_t handle;
  pthread_condattr_t clock;
  pthread_condattr_init(&clock);
  pthread_condattr_setclock(&clock, CLOCK_MONOTONIC);
  pthread_mutex_init(&thread->lock, NULL);
  pthread_cond_init(&thread->asked, &clock);
  pthread_cond_init(&thread->closed, &clock);
  g_queue_init(&thread->requests);
  g_queue_init(&thread->answers);
  thread->event = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
  if (pthread_create(&handle, NULL, run, thread) != 0)
    g_error("The device thread cannot be started.");
  pthread_detach(handle);
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
  push_request(thread, request);
}

gboolean cw_device_thread_close(CwDeviceThread *thread, guint patience_ms)
{
  g_return_val_if_fail(thread != NULL, FALSE);
  struct timespec until;
  clock_gettime(CLOCK_MONOTONIC, &until);
  until.tv_sec += patience_ms / 1000;
  until.tv_nsec += (long)(patience_ms % 1000) * 1000000;
  if (until.tv_nsec >= 1000000000) {
    until.tv_sec++;
    until.tv_nsec -= 1000000000;
  }
  Request *request = g_new0(Request, 1);
  request->kind = CW_MESSAGE_QUIT;
  push_request(thread, request);
  pthread_mutex_lock(&thread->lock);
  int late = 0;
  while (thread->closings == 0 && late == 0)
    late = pthread_cond_timedwait(&thread->closed, &thread->lock, &until);
  gboolean closed = thread->closings > 0;
  pthread_mutex_unlock(&thread->lock);
  return closed;
}

int cw_device_thread_get_fd(CwDeviceThread *thread)
{
  return thread->event;
}

CwDeviceAnswer *cw_device_thread_take(CwDeviceThread *thread)
{
  eventfd_t count;
  /* The event before the queue: an answer that comes in between leaves the event set. */
  eventfd_read(thread->event, &count);
  pthread_mutex_lock(&thread->lock);
  CwDeviceAnswer *answer = g_queue_pop_head(&thread->answers);
  pthread_mutex_unlock(&thread->lock);
  return answer;
}
