/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/application.h"
#include "window/page.h"
#include "window/session.h"

G_BEGIN_DECLS

#define CW_TYPE_WINDOW (cw_window_get_type())
G_DECLARE_FINAL_TYPE(CwWindow, cw_window, CW, WINDOW, GtkApplicationWindow)

CwWindow *cw_window_new(CwApplication *application);
CwSession *cw_window_get_session(CwWindow *window);
CwSoundDesk *cw_window_get_desk(CwWindow *window);
void cw_window_show_project(CwWindow *window, CwProject *project);
CwPage *cw_window_get_page(CwWindow *window);
gboolean cw_window_get_findings_shown(CwWindow *window);
void cw_window_set_findings_shown(CwWindow *window, gboolean shown);

G_END_DECLS
