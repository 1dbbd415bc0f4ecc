/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "job/job_error.h"
#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* Does one long work at a time off the main loop, with progress in words and a cancel that works. Signal
 * "changed": it goes on, or has ended. */
#define CW_TYPE_WORKER (cw_worker_get_type())
G_DECLARE_FINAL_TYPE(CwWorker, cw_worker, CW, WORKER, GObject)

/* A kind of work: run() in another thread, then store() in the main loop, then one commit under the name
 * `what`. */
typedef struct {
  gboolean (*run)(gpointer work, GCancellable *cancellable, CwProgress progress, gpointer data,
                  GError **error);
  void (*store)(gpointer work, CwProject *project);
  GDestroyNotify free;
  const char *what; /* to be translated */
  const char *done;
  char *(*also)(gpointer work); /* more that is to be told once it is stored, or NULL; may itself be NULL */
} CwWorkKind;

/* Does one long work at a time for a page of the session. The caller's reference. */
CwWorker *cw_worker_new(CwSession *session);

/* Begins a work, which it takes over; words say what it begins with. The result is stored as one edit.
 * Nothing while it runs. */
void cw_worker_start(CwWorker *worker, const CwWorkKind *kind, gpointer work, const char *words);
void cw_worker_cancel(CwWorker *worker);
gboolean cw_worker_is_running(CwWorker *worker);

/* How far it is, in words and as a bar, with a button to cancel; hidden while nothing runs. */
GtkWidget *cw_worker_bar_new(CwWorker *worker);

G_END_DECLS
