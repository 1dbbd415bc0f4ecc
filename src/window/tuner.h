/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/session.h"

G_BEGIN_DECLS

/* Proposes a tune off the main loop. Signal "changed": it goes on, or has ended. */
#define CW_TYPE_TUNER (cw_tuner_get_type())
G_DECLARE_FINAL_TYPE(CwTuner, cw_tuner, CW, TUNER, GObject)

CwTuner *cw_tuner_new(CwSession *session);
void cw_tuner_start(CwTuner *tuner, const char *seat);
void cw_tuner_cancel(CwTuner *tuner);
gboolean cw_tuner_is_running(CwTuner *tuner);
const char *cw_tuner_get_words(CwTuner *tuner);
double cw_tuner_get_part(CwTuner *tuner);

G_END_DECLS
