/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/shell/window.h"

G_BEGIN_DECLS

/* Every action of the program is a row of one table: its name, keys, title, what it does, and when it can be
 * done. The menu's keys and the window of shortcuts come from the same rows. */
void cw_actions_set_keys(GtkApplication *application);
void cw_actions_install_in_window(CwWindow *window);
GtkWidget *cw_actions_new_shortcuts_window(void);
GMenuModel *cw_actions_new_menu(void);

G_END_DECLS
