/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* What the curves are compared with: nothing, the car without settings, or the tune of a restore point. */
GtkWidget *cw_before_choice_new(CwSession *session, void (*chosen)(gpointer data), gpointer data);
gboolean cw_before_choice_is_on(GtkWidget *choice);

/* The tune (CwTune), borrowed; NULL for none and for no settings. */
CwRecord *cw_before_choice_get_tune(GtkWidget *choice);

/* Reads the list of restore points again. */
void cw_before_choice_refresh(GtkWidget *choice);

G_END_DECLS
