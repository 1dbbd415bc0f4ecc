/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* What each lead of the radio carries: one picture a lead, before and after the correction, with its band;
 * what it is, in words; and where on the plan it goes. */
GtkWidget *cw_survey_leads_new(CwSession *session);
void cw_survey_leads_refresh(GtkWidget *leads);

/* Leaves a lead out of the mix or takes it in again as one edit, and tells what became of changes by hand. */
void cw_skip_lead(CwSession *session, gint64 lead, gboolean skipped);

G_END_DECLS
