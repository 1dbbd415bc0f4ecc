/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/forecast.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The filters of the session's output: its curve with handles, its gain, delay and polarity, and its sections as rows. */
typedef struct CwFilterEditor CwFilterEditor;

#define CW_EDITOR_LABEL_LETTERS 10 /* room for the names of curves, the same in plots that stand above each other */

CwFilterEditor *cw_filter_editor_new(CwSession *session, CwForecast *forecast);
void cw_filter_editor_free(CwFilterEditor *editor);
GtkWidget *cw_filter_editor_get_curve(CwFilterEditor *editor);
GtkWidget *cw_filter_editor_get_values(CwFilterEditor *editor);
void cw_filter_editor_refresh(CwFilterEditor *editor, gboolean predicted, gboolean with_before);

G_END_DECLS
