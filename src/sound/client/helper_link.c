/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sound/client/helper_link.h"

#include <errno.h>
#include <gio/gio.h>
#include <gio/gunixinputstream.h>
#include <gio/gunixoutputstream.h>
#include <glib-unix.h>
#include <string.h>
#include <unistd.h>

#define HEARTBEAT_MS 100
#define KILL_AFTER_MS 500
/* One read; with READS_A_TURN this bounds the time a flood can keep the main loop from its other work. */
#define READ_BYTES 65536
#define READS_A_TURN 4
/* Twice what 32 channels at 192 kHz need in a second: more is a helper run wild. */
#define BYTES_A_SECOND_MOST (64u << 20)
#define MESSAGES_A_SECOND_MOST 20000

struct CwHelperLink {
  CwHelperHandlers handlers;
  gpointer data;
  GMainContext *context;
  GSubprocess *process;
  int to_helper, from_helper; /* owned by the process's streams */
  GSource *readable, *writable, *beat;
  CwMessageParser *parser;
  GByteArray *out;
  gsize written; /* bytes at the front of `out` that are through */
  gint64 heard_us, beat_us, second_us;
  gsize bytes_this_second, messages_this_second;
  guint32 beats;
  gboolean greeted, broken;
  guint in_use; /* handlers running: freeing waits for them */
  gboolean doomed;
};

static void drop_source(GSource **source)
{
  if (*source) {
    g_source_destroy(*source);
    g_clear_pointer(source, g_source_unref);
  }
}

static void destroy(CwHelperLink *link)
{
  cw_message_parser_free(link->parser);
  g_byte_array_unref(link->out);
  g_clear_object(&link->process);
  g_main_context_unref(link->context);
  g_free(link);
}

static void enter(CwHelperLink *link)
{
  link->in_use++;
}

static void leave(CwHelperLink *link)
{
  if (--link->in_use == 0 && link->doomed)
    destroy(link);
}

/* Ends the traffic and tells the owner, once. Takes the error. */
static void breaks(CwHelperLink *link, GError *error)
{
  drop_source(&link->readable);
  drop_source(&link->writable);
  drop_source(&link->beat);
  if (!link->broken && !link->doomed) {
    link->broken = TRUE;
    link->handlers.broken(error, link->data);
  }
  g_error_free(error);
}

static void breaks_in_words(CwHelperLink *link, const char *words)
{
  breaks(link, g_error_new_literal(CW_SOUND_ERROR, CW_SOUND_ERROR_HELPER, words));
}

static gboolean on_writable(gint fd, GIOCondition condition, gpointer user_data)
{
  CwHelperLink *link = user_data;
  gboolean keep = G_SOURCE_CONTINUE;
  enter(link);
  if (link->written == link->out->len) {
    g_byte_array_set_size(link->out, 0);
    link->written = 0;
    if (!link->greeted || !link->handlers.more(link->out, link->data)) {
      g_clear_pointer(&link->writable, g_source_unref);
      keep = G_SOURCE_REMOVE;
    }
  }
  if (keep && link->out->len > link->written) {
    gssize wrote = write(fd, link->out->data + link->written, link->out->len - link->written);
    if (wrote > 0)
      link->written += (gsize)wrote;
    else if (wrote < 0 && errno != EAGAIN && errno != EINTR) {
      breaks_in_words(link, "The sound helper has ended unexpectedly.");
      keep = G_SOURCE_REMOVE;
    }
  }
  leave(link);
  return keep;
}

void cw_helper_link_wake(CwHelperLink *link)
{
  g_return_if_fail(link != NULL);
  if (link->writable || link->broken || link->doomed)
    return;
  link->writable = g_unix_fd_source_new(link->to_helper, G_IO_OUT | G_IO_ERR);
  g_source_set_callback(link->writable, G_SOURCE_FUNC(on_writable), link, NULL);
  g_source_attach(link->writable, link->context);
}

void cw_helper_link_send(CwHelperLink *link, const CwMessage *message)
{
  g_return_if_fail(link != NULL && message != NULL);
  if (cw_message_encode(message, link->out))
    cw_helper_link_wake(link);
}

gboolean cw_helper_link_is_greeted(CwHelperLink *link)
{
  g_return_val_if_fail(link != NULL, FALSE);
  return link->greeted;
}

static void on_message(CwHelperLink *link, const CwMessage *message)
{
  if (!link->greeted) {
    if (message->kind != CW_MESSAGE_HELLO) {
      breaks_in_words(link, "The sound helper did not say hello first; it is another program.");
      return;
    }
    if (message->hello.version != CW_PROTOCOL_VERSION) {
      breaks(link,
             g_error_new(
                 CW_SOUND_ERROR, CW_SOUND_ERROR_HELPER,
                 "The sound helper speaks version %u, expected %u; install both programs from one release.",
                 message->hello.version, CW_PROTOCOL_VERSION));
      return;
    }
    link->greeted = TRUE;
    cw_helper_link_wake(link);
  }
  link->heard_us = g_get_monotonic_time();
  link->handlers.message(message, link->data);
}

/* Counts what came; FALSE once the helper talks more than any sound could need. */
static gboolean within_measure(CwHelperLink *link, gsize bytes, gsize messages)
{
  gint64 now_us = g_get_monotonic_time();
  if (now_us - link->second_us > G_USEC_PER_SEC) {
    link->second_us = now_us;
    link->bytes_this_second = link->messages_this_second = 0;
  }
  link->bytes_this_second += bytes;
  link->messages_this_second += messages;
  return link->bytes_this_second <= BYTES_A_SECOND_MOST &&
         link->messages_this_second <= MESSAGES_A_SECOND_MOST;
}

/* Hands on every whole message; FALSE when the link broke. */
static gboolean take_messages(CwHelperLink *link)
{
  CwMessage message;
  GError *error = NULL;
  while (!link->broken && !link->doomed && cw_message_parser_next(link->parser, &message, &error)) {
    if (within_measure(link, 0, 1))
      on_message(link, &message);
    else
      breaks_in_words(link, "The sound helper talks without end.");
    cw_message_clear(&message);
  }
  if (error) {
    GError *told = g_error_new(CW_SOUND_ERROR, CW_SOUND_ERROR_HELPER, "The sound helper talks nonsense (%s).",
                               error->message);
    g_error_free(error);
    breaks(link, told);
  }
  return !link->broken && !link->doomed;
}

static gboolean on_readable(gint fd, GIOCondition condition, gpointer user_data)
{
  CwHelperLink *link = user_data;
  gboolean keep = TRUE;
  enter(link);
  guint8 *bytes = g_malloc(READ_BYTES);
  for (guint i = 0; keep && i < READS_A_TURN; i++) {
    gssize got = read(fd, bytes, READ_BYTES);
    if (got > 0) {
      cw_message_parser_push(link->parser, bytes, (gsize)got);
      keep = take_messages(link);
      if (keep && !within_measure(link, (gsize)got, 0)) {
        breaks_in_words(link, "The sound helper talks without end.");
        keep = FALSE;
      }
    } else if (got < 0 && (errno == EAGAIN || errno == EINTR)) {
      break;
    } else {
      breaks_in_words(link, "The sound helper has ended unexpectedly.");
      keep = FALSE;
    }
  }
  g_free(bytes);
  leave(link);
  return keep ? G_SOURCE_CONTINUE : G_SOURCE_REMOVE;
}

static gboolean on_beat(gpointer user_data)
{
  CwHelperLink *link = user_data;
  gboolean keep = G_SOURCE_CONTINUE;
  enter(link);
  gint64 now_us = g_get_monotonic_time();
  /* When this loop itself was held up, the helper's words may be waiting unread: start counting afresh. */
  if (now_us - link->beat_us > 3 * HEARTBEAT_MS * 1000)
    link->heard_us = now_us;
  link->beat_us = now_us;
  if (now_us - link->heard_us > CW_HELPER_PATIENCE_MS * 1000) {
    breaks_in_words(link,
                    link->greeted ? "The sound helper does not answer." : "The sound helper does not start.");
    keep = G_SOURCE_REMOVE;
  } else {
    CwMessage message = {.kind = CW_MESSAGE_HEARTBEAT, .heartbeat = {++link->beats}};
    cw_helper_link_send(link, &message);
  }
  leave(link);
  return keep;
}

static void attach_sources(CwHelperLink *link)
{
  link->readable = g_unix_fd_source_new(link->from_helper, G_IO_IN | G_IO_HUP | G_IO_ERR);
  g_source_set_callback(link->readable, G_SOURCE_FUNC(on_readable), link, NULL);
  g_source_attach(link->readable, link->context);
  link->beat = g_timeout_source_new(HEARTBEAT_MS);
  g_source_set_callback(link->beat, on_beat, link, NULL);
  g_source_attach(link->beat, link->context);
}

CwHelperLink *cw_helper_link_start(const char *path, const CwHelperHandlers *handlers, gpointer data,
                                   GError **error)
{
  g_return_val_if_fail(path != NULL && handlers != NULL, NULL);
  GSubprocessFlags flags = G_SUBPROCESS_FLAGS_STDIN_PIPE | G_SUBPROCESS_FLAGS_STDOUT_PIPE;
  /* The sound libraries below the helper are talkative on standard error. */
  if (!g_getenv("CABINWRIGHT_SOUND_DEBUG"))
    flags |= G_SUBPROCESS_FLAGS_STDERR_SILENCE;
  GError *reason = NULL;
  GSubprocess *process = g_subprocess_new(flags, &reason, path, NULL);
  if (!process) {
    g_set_error(error, CW_SOUND_ERROR, CW_SOUND_ERROR_HELPER, "The sound helper %s cannot be started: %s",
                path, reason->message);
    g_error_free(reason);
    return NULL;
  }

  CwHelperLink *link = g_new0(CwHelperLink, 1);
  link->handlers = *handlers;
  link->data = data;
  link->context = g_main_context_ref_thread_default();
  link->process = process;
  link->to_helper = g_unix_output_stream_get_fd(G_UNIX_OUTPUT_STREAM(g_subprocess_get_stdin_pipe(process)));
  link->from_helper = g_unix_input_stream_get_fd(G_UNIX_INPUT_STREAM(g_subprocess_get_stdout_pipe(process)));
  g_unix_set_fd_nonblocking(link->to_helper, TRUE, NULL);
  g_unix_set_fd_nonblocking(link->from_helper, TRUE, NULL);
  link->parser = cw_message_parser_new();
  link->out = g_byte_array_new();
  link->heard_us = link->beat_us = link->second_us = g_get_monotonic_time();
  attach_sources(link);

  CwMessage hello = {.kind = CW_MESSAGE_HELLO, .hello = {CW_PROTOCOL_VERSION, (char *)"cabinwright"}};
  cw_helper_link_send(link, &hello);
  return link;
}

static gboolean kill_late(gpointer process)
{
  g_subprocess_force_exit(process);
  return G_SOURCE_REMOVE;
}

void cw_helper_link_free(CwHelperLink *link, gboolean at_once)
{
  if (!link)
    return;
  link->doomed = TRUE;
  drop_source(&link->readable);
  drop_source(&link->writable);
  drop_source(&link->beat);
  g_output_stream_close(g_subprocess_get_stdin_pipe(link->process), NULL, NULL);
  g_input_stream_close(g_subprocess_get_stdout_pipe(link->process), NULL, NULL);
  if (at_once) {
    g_subprocess_force_exit(link->process);
  } else {
    GSource *late = g_timeout_source_new(KILL_AFTER_MS);
    g_source_set_callback(late, kill_late, g_object_ref(link->process), g_object_unref);
    g_source_attach(late, link->context);
    g_source_unref(late);
  }
  if (link->in_use == 0)
    destroy(link);
}
