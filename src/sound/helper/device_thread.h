/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The helper's second thread: everything that may stall for seconds (listing, opening, closing devices,
 * setting up the practice bay) happens there, so that the helper goes on answering.
 */
#pragma once

#include "sound/helper/backend.h"

typedef struct CwDeviceThread CwDeviceThread;

/* What came of a request. */
typedef struct {
  guint32 serial;
  CwMessageKind kind; /* CW_MESSAGE_LIST, _PRACTICE or _OPEN */
  GError *error;      /* NULL when done */
  GArray *devices;    /* list: of CwSoundDevice */
  CwEngine *engine;   /* open: owned by the thread, running until the next open, practice or close */
  gboolean practice;  /* open: of the practice bay */
} CwDeviceAnswer;
void cw_device_answer_free(CwDeviceAnswer *answer);

/* Starts the thread; NULL where it cannot be started. End it with cw_device_thread_close(). */
CwDeviceThread *cw_device_thread_new(void);

/* Queues a list, practice or open request (copied). An open closes what was open before it. */
void cw_device_thread_ask(CwDeviceThread *thread, const CwMessage *request);

/* For the end of the helper: closes what is open. Returns whether that was done within the time; if not, the
 * thread hangs and must be left alone. */
gboolean cw_device_thread_close(CwDeviceThread *thread, guint patience_ms);

/* Readable when an answer waits, and the next answer or NULL; the caller's. */
int cw_device_thread_get_fd(CwDeviceThread *thread);
CwDeviceAnswer *cw_device_thread_take(CwDeviceThread *thread);
