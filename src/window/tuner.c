/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/tuner.h"

#include "job/tune.h"

#include <glib/gi18n-lib.h>

struct _CwTuner {
  GObject parent_instance;
  CwSession *session;
  GCancellable *cancellable; /* not NULL while running */
  char *words;
  double part;
};

G_DEFINE_FINAL_TYPE(CwTuner, cw_tuner, G_TYPE_OBJECT)

static guint changed;

static void tuner_dispose(GObject *object)
{
  CwTuner *tuner = CW_TUNER(object);
  cw_tuner_cancel(tuner);
  g_clear_object(&tuner->cancellable);
  g_clear_object(&tuner->session);
  g_clear_pointer(&tuner->words, g_free);
  G_OBJECT_CLASS(cw_tuner_parent_class)->dispose(object);
}

static void cw_tuner_class_init(CwTunerClass *klass)
{
  G_OBJECT_CLASS(klass)->dispose = tuner_dispose;
  changed = g_signal_new("changed", G_TYPE_FROM_CLASS(klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
}

static void cw_tuner_init(CwTuner *tuner)
{
}

CwTuner *cw_tuner_new(CwSession *session)
{
  CwTuner *tuner = g_object_new(CW_TYPE_TUNER, NULL);
  tuner->session = g_object_ref(session);
  return tuner;
}

gboolean cw_tuner_is_running(CwTuner *tuner)
{
  return tuner->cancellable != NULL;
}

/* What it does, in words. */
const char *cw_tuner_get_words(CwTuner *tuner)
{
  return tuner->words ? tuner->words : "";
}

/* How far it is, 0 to 1. */
double cw_tuner_get_part(CwTuner *tuner)
{
  return tuner->part;
}

void cw_tuner_cancel(CwTuner *tuner)
{
  if (tuner->cancellable)
    g_cancellable_cancel(tuner->cancellable);
}

/* --- in the worker's thread ------------------------------------------------------------------------------------------ */

typedef struct {
  CwTuner *tuner;
  double part;
  char *words;
} Progress;

static gboolean show_progress(gpointer data)
{
  Progress *progress = data;
  if (progress->tuner->cancellable) {
    progress->tuner->part = progress->part;
    g_free(progress->tuner->words);
    progress->tuner->words = g_strdup(progress->words);
    g_signal_emit(progress->tuner, changed, 0);
  }
  return G_SOURCE_REMOVE;
}

static void progress_free(gpointer data)
{
  Progress *progress = data;
  g_object_unref(progress->tuner);
  g_free(progress->words);
  g_free(progress);
}

static void on_progress(double part, const char *words, gpointer tuner)
{
  Progress *progress = g_new(Progress, 1);
  *progress = (Progress){g_object_ref(tuner), part, g_strdup(words)};
  g_idle_add_full(G_PRIORITY_DEFAULT_IDLE, show_progress, progress, progress_free);
}

static void run(GTask *task, gpointer source, gpointer work, GCancellable *cancellable)
{
  GError *error = NULL;
  if (cw_tune_work_run(work, cancellable, on_progress, source, &error))
    g_task_return_boolean(task, TRUE);
  else
    g_task_return_error(task, error);
}

/* --- in the main loop ------------------------------------------------------------------------------------------------ */

static void end(CwTuner *tuner)
{
  g_clear_object(&tuner->cancellable);
  g_signal_emit(tuner, changed, 0);
}

static void on_run(GObject *source, GAsyncResult *result, gpointer data)
{
  CwTuner *tuner = CW_TUNER(source);
  g_autoptr(GError) error = NULL;
  g_autoptr(CwProject) project = data;
  gboolean done = g_task_propagate_boolean(G_TASK(result), &error);
  if (!tuner->session)
    return;
  if (done && project == cw_session_get_project(tuner->session)) {
    cw_tune_work_store(g_task_get_task_data(G_TASK(result)), project);
    if (cw_session_commit(tuner->session, _("Propose a tune")))
      cw_session_tell(tuner->session, CW_TOLD_DONE, _("The tune is there. Undo brings the one before back."));
  } else if (g_error_matches(error, G_IO_ERROR, G_IO_ERROR_CANCELLED)) {
    cw_session_tell(tuner->session, CW_TOLD_DONE, _("Cancelled. The tune is as it was."));
  } else if (error) {
    cw_session_tell(tuner->session, CW_TOLD_FAILED, _("No tune: %s. The tune is as it was."), error->message);
  }
  end(tuner);
}

/* Begins a tune for a seat, or for all of them with NULL. The result is stored as one edit. */
void cw_tuner_start(CwTuner *tuner, const char *seat)
{
  CwProject *project = cw_session_get_project(tuner->session);
  g_autoptr(GError) error = NULL;
  if (tuner->cancellable || !project)
    return;
  CwTuneWork *work = cw_tune_work_new(project, seat, &error);
  if (!work) {
    cw_session_tell(tuner->session, CW_TOLD_FAILED, _("No tune: %s. The tune is as it was."), error->message);
    return;
  }
  tuner->cancellable = g_cancellable_new();
  tuner->part = 0;
  g_free(tuner->words);
  tuner->words = g_strdup(_("Reading the takes"));
  g_autoptr(GTask) task = g_task_new(tuner, tuner->cancellable, on_run, g_object_ref(project));
  g_task_set_task_data(task, work, (GDestroyNotify)cw_tune_work_free);
  g_task_run_in_thread(task, run);
  g_signal_emit(tuner, changed, 0);
}
