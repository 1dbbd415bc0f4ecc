/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/shell/window.h"

G_BEGIN_DECLS

/* The questions of the main menu, each in a window of its own. */
void cw_dialogs_open(CwWindow *window);
void cw_dialogs_new_vehicle(CwWindow *window);
void cw_dialogs_new_from_sheet(CwWindow *window);
void cw_dialogs_practice_afresh(CwWindow *window);
void cw_dialogs_name_restore_point(CwWindow *window);
void cw_dialogs_show_help(CwWindow *window);
void cw_dialogs_show_about(CwWindow *window);

G_END_DECLS
