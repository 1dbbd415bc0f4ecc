/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/session.h"
#include "window/sound_desk.h"

G_BEGIN_DECLS

/* Records takes one after the other: plays the feed, listens, analyses off the main loop, and stores each as one edit.
 * Signal "changed": it goes on, or has ended. */
#define CW_TYPE_RECORDER (cw_recorder_get_type())
G_DECLARE_FINAL_TYPE(CwRecorder, cw_recorder, CW, RECORDER, GObject)

typedef struct {
  gint64 output;
  char *position; /* "driver/3" */
} CwWantedTake;

GPtrArray *cw_wanted_takes_new(void);
void cw_wanted_takes_add(GPtrArray *wanted, gint64 output, const char *position);

typedef enum {
  CW_RECORD_AS_IT_SOUNDS,
  CW_RECORD_COMPUTED, /* in the practice bay alone: faster than it would sound */
} CwRecordingWay;

CwRecorder *cw_recorder_new(CwSession *session, CwSoundDesk *desk);
void cw_recorder_start(CwRecorder *recorder, GPtrArray *wanted, int timing, int purpose, CwRecordingWay way);
void cw_recorder_stop(CwRecorder *recorder);
gboolean cw_recorder_is_running(CwRecorder *recorder);
const char *cw_recorder_get_words(CwRecorder *recorder);
const CwWantedTake *cw_recorder_get_current(CwRecorder *recorder);

G_END_DECLS
