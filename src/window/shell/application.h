/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/project/project.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

#define CW_TYPE_APPLICATION (cw_application_get_type())
G_DECLARE_FINAL_TYPE(CwApplication, cw_application, CW, APPLICATION, GtkApplication)

/* The application, not yet registered. The caller's reference. */
CwApplication *cw_application_new(void);

/* Shows a project in a window: in the one given if it has none yet, else in another. */
void cw_application_show_project(CwApplication *application, CwProject *project, GtkWindow *window);

G_END_DECLS
