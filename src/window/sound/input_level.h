/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/sound/sound_run.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* What comes in while a run records: a bar a channel, and in words whether that is too much or too little;
 * before that the words given. */
GtkWidget *cw_input_level_new(CwSoundDesk *desk, CwSoundRun *run, const char *words);

/* A recording begins: what came in before no longer counts. */
void cw_input_level_begin(GtkWidget *level);

G_END_DECLS
