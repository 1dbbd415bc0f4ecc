/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/plots/plot_view.h"
#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The filters of whatever has sections, gain, delay and polarity, an output or an input of the processor: its
 * curve with handles, its settings, and its sections as rows. */
typedef struct CwFilterEditor CwFilterEditor;

/* What is edited: the same functions for all of a kind, each called with the data that came with them. */
typedef struct {
  const char *plot_name;              /* not translated */
  const CwFieldId *settings;          /* fields of the record above its sections; ends with CW_NO_FIELD */
  gboolean of_outputs;                /* edits may reach several outputs (linking.h) */
  CwRecord *(*find)(gpointer data);   /* the live record; NULL for none */
  char *(*say_title)(gpointer data);  /* the caller's */
  double (*middle_hz)(gpointer data); /* where a new section begins */
  gboolean (*draw)(gpointer data,
                   CwPlotView *at); /* the last curve carries the handles; FALSE for no curve */
} CwFilterSubject;

#define CW_EDITOR_LABEL_LETTERS                                                                              \
  10 /* room for the names of curves, the same in plots that stand above each other */

/* The subject must live as long; its data the caller frees after the editor. */
CwFilterEditor *cw_filter_editor_new(CwSession *session, const CwFilterSubject *subject, gpointer data);
void cw_filter_editor_free(CwFilterEditor *editor);
GtkWidget *cw_filter_editor_get_curve(CwFilterEditor *editor);
GtkWidget *cw_filter_editor_get_values(CwFilterEditor *editor);

/* Brings the editor up to date. */
void cw_filter_editor_refresh(CwFilterEditor *editor);

G_END_DECLS
