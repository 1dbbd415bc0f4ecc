/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* What the radio's leads come to when they are added: the mix that is advised, before and after its
 * correction, which can be set by hand, and every sum that one might think of, with what speaks for or
 * against it. */
GtkWidget *cw_survey_sums_new(CwSession *session);
void cw_survey_sums_refresh(GtkWidget *sums);

G_END_DECLS
