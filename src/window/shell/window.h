/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/sound/sound_desk.h"
#include "window/state/session.h"
#include "window/widgets/page.h"

G_BEGIN_DECLS

/* Signal "shown": what can be done now may have changed. */
#define CW_TYPE_WINDOW (cw_window_get_type())
G_DECLARE_FINAL_TYPE(CwWindow, cw_window, CW, WINDOW, GtkApplicationWindow)

/* A window with the start page. */
CwWindow *cw_window_new(GtkApplication *application, CwSoundDesk *desk, GMenuModel *menu);
CwSession *cw_window_get_session(CwWindow *window);
CwSoundDesk *cw_window_get_desk(CwWindow *window);

/* Shows a project, or the start page for NULL. */
void cw_window_show_project(CwWindow *window, CwProject *project);

/* The page that is open, borrowed; NULL while no vehicle is. */
CwPage *cw_window_get_page(CwWindow *window);
gboolean cw_window_get_findings_shown(CwWindow *window);
void cw_window_set_findings_shown(CwWindow *window, gboolean shown);

G_END_DECLS
