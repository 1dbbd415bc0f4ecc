/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files of the sound client share: its one running operation, what it does and what it hears. */
#pragma once

#include "sound/client/client.h"
#include "sound/client/helper_link.h"
#include "sound/client/sound_job.h"

#define CW_CLIENT_TICK_MS 100

typedef enum { WHAT_REFRESH, WHAT_LISTEN, WHAT_PLAY } CwClientWhat;
typedef enum { STEP_LIST, STEP_PRACTICE, STEP_OPEN, STEP_PLAY } CwClientStep;

/* The one thing the client is doing. */
typedef struct {
  CwClientWhat what;
  CwClientStep step;
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
} CwClientOperation;

/* CwClientWhat the helper has open. */
typedef struct {
  char *device; /* NULL: nothing */
  char *input_device;
  double asked_hz, rate_hz;
  guint32 inputs, outputs, block_frames;
} CwClientOpened;

struct _CwSoundClient {
  GObject parent_instance;
  char *helper_path;
  GMainContext *context;
  CwHelperLink *link;
  const CwHelperHandlers *handlers;
  char *practice;
  gboolean practice_told;
  CwClientOpened opened;
  CwMessageDevices devices;
  CwSoundState state;
  guint32 serial;
  CwClientOperation *operation;
  gboolean listening;
  gboolean live; /* the helper was told to send its input as it comes */
  GSource *tick;
  gint64 tick_us;
};

/* client_operation.c */

/* Goes on with the running operation: sends the next step that is still missing. */
void cw_client_advance(CwSoundClient *client);
/* Ends the running operation: with the error (taken), or well with NULL. */
void cw_client_finish(CwSoundClient *client, GError *error);
/* The helper is of no more use: tells everyone, and lets the next call start another. */
void cw_client_fail(CwSoundClient *client, const GError *error);
void cw_client_fail_in_words(CwSoundClient *client, const char *words);
/* Stops what plays or is being opened. */
void cw_client_halt(CwSoundClient *client);
/* Every CW_CLIENT_TICK_MS of an operation: does it get on? A GSourceFunc. */
gboolean cw_client_tick(gpointer client);
/* Has the helper send its input as it comes, while somebody listens or a job that is heard plays. */
void cw_client_settle_live(CwSoundClient *client);
void cw_client_set_state(CwSoundClient *client, CwSoundState state);
void cw_client_forget_opened(CwSoundClient *client);
void cw_client_drop_link(CwSoundClient *client, gboolean at_once);

/* client_hear.c: what the helper says, and what it still has to be told of the feed. */
extern const CwHelperHandlers cw_client_handlers;
