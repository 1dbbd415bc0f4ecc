/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One running sound helper as seen from the program: the process, its two pipes, the heartbeat, and the
 * judgement that it has died, hangs, or talks nonsense. Knows nothing of what is played.
 */
#pragma once

#include "sound/protocol.h"

/* A helper that has sent no whole message for this long hangs. */
#define CW_HELPER_PATIENCE_MS 900

typedef struct CwHelperLink CwHelperLink;

typedef struct {
  /* A message came. It belongs to the link. */
  void (*message)(const CwMessage *message, gpointer data);
  /* The link is broken for good; one line for people. Comes at most once; free the link from here or later.
   */
  void (*broken)(const GError *error, gpointer data);
  /* The pipe has room and nothing else is waiting: append one encoded message, or FALSE when there is none.
   */
  gboolean (*more)(GByteArray *bytes, gpointer data);
} CwHelperHandlers;

/* Starts the program at path, its hello sent and its heartbeat running in the thread-default main context.
 * NULL with CW_SOUND_ERROR_HELPER. */
CwHelperLink *cw_helper_link_start(const char *path, const CwHelperHandlers *handlers, gpointer data,
                                   GError **error);

/* Closes the pipes: a sound helper fades and leaves. One that is still there after half a second is killed;
 * with `at_once` it is killed now. */
void cw_helper_link_free(CwHelperLink *link, gboolean at_once);

/* Queues a message ahead of what `more` would supply. */
void cw_helper_link_send(CwHelperLink *link, const CwMessage *message);

/* Tells the link that `more` has something again. */
void cw_helper_link_wake(CwHelperLink *link);

/* TRUE once the helper has said hello in our version. */
gboolean cw_helper_link_is_greeted(CwHelperLink *link);
