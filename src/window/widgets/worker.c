/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/widgets/worker.h"

#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>

struct _CwWorker {
  GObject parent_instance;
  CwSession *session;
  GCancellable *cancellable; /* not NULL while running */
  const CwWorkKind *kind;    /* of the work that is on */
  char *words;
  double part;
};

G_DEFINE_FINAL_TYPE(CwWorker, cw_worker, G_TYPE_OBJECT)

static guint changed;

static void worker_dispose(GObject *object)
{
  CwWorker *worker = CW_WORKER(object);
  cw_worker_cancel(worker);
  g_clear_object(&worker->cancellable);
  g_clear_object(&worker->session);
  g_clear_pointer(&worker->words, g_free);
  G_OBJECT_CLASS(cw_worker_parent_class)->dispose(object);
}

static void cw_worker_class_init(CwWorkerClass *klass)
{
  G_OBJECT_CLASS(klass)->dispose = worker_dispose;
  changed = g_signal_new("changed", G_TYPE_FROM_CLASS(klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL,
                         G_TYPE_NONE, 0);
}

static void cw_worker_init(CwWorker *worker)
{
}

CwWorker *cw_worker_new(CwSession *session)
{
  CwWorker *worker = g_object_new(CW_TYPE_WORKER, NULL);
  worker->session = g_object_ref(session);
  return worker;
}

gboolean cw_worker_is_running(CwWorker *worker)
{
  return worker->cancellable != NULL;
}

void cw_worker_cancel(CwWorker *worker)
{
  if (worker->cancellable)
    g_cancellable_cancel(worker->cancellable);
}

/* --- in the worker's thread --- */

typedef struct {
  CwWorker *worker;
  double part;
  char *words;
} Progress;

static gboolean show_progress(gpointer data)
{
  Progress *progress = data;
  if (progress->worker->cancellable) {
    progress->worker->part = progress->part;
    g_free(progress->worker->words);
    progress->worker->words = g_strdup(progress->words);
    g_signal_emit(progress->worker, changed, 0);
  }
  return G_SOURCE_REMOVE;
}

static void progress_free(gpointer data)
{
  Progress *progress = data;
  g_object_unref(progress->worker);
  g_free(progress->words);
  g_free(progress);
}

static void on_progress(double part, const char *words, gpointer worker)
{
  Progress *progress = g_new(Progress, 1);
  *progress = (Progress){g_object_ref(worker), part, g_strdup(words)};
  g_idle_add_full(G_PRIORITY_DEFAULT_IDLE, show_progress, progress, progress_free);
}

static void run(GTask *task, gpointer source, gpointer work, GCancellable *cancellable)
{
  GError *error = NULL;
  if (CW_WORKER(source)->kind->run(work, cancellable, on_progress, source, &error))
    g_task_return_boolean(task, TRUE);
  else
    g_task_return_error(task, error);
}

/* --- in the main loop --- */

static void end(CwWorker *worker)
{
  g_clear_object(&worker->cancellable);
  cw_session_set_work(worker->session, NULL);
  g_signal_emit(worker, changed, 0);
}

static void on_run(GObject *source, GAsyncResult *result, gpointer data)
{
  CwWorker *worker = CW_WORKER(source);
  g_autoptr(GError) error = NULL;
  g_autoptr(CwProject) project = data;
  gboolean done = g_task_propagate_boolean(G_TASK(result), &error);
  if (!worker->session)
    return;
  if (done && project == cw_session_get_project(worker->session)) {
    worker->kind->store(g_task_get_task_data(G_TASK(result)), project);
    g_autofree char *also =
        worker->kind->also ? worker->kind->also(g_task_get_task_data(G_TASK(result))) : NULL;
    if (cw_session_commit(worker->session, _(worker->kind->what)))
      cw_session_tell(worker->session, CW_TOLD_DONE, also ? "%s %s" : "%s", _(worker->kind->done), also);
  } else if (g_error_matches(error, G_IO_ERROR, G_IO_ERROR_CANCELLED)) {
    cw_session_tell(worker->session, CW_TOLD_DONE, _("Cancelled. The vehicle is as it was."));
  } else if (error) {
    cw_session_tell(worker->session, CW_TOLD_FAILED, _("%s failed: %s. The vehicle is as it was."),
                    _(worker->kind->what), error->message);
  }
  end(worker);
}

void cw_worker_start(CwWorker *worker, const CwWorkKind *kind, gpointer work, const char *words)
{
  CwProject *project = cw_session_get_project(worker->session);
  if (worker->cancellable || !project) {
    kind->free(work);
    return;
  }
  worker->kind = kind;
  worker->cancellable = g_cancellable_new();
  cw_session_set_work(worker->session, worker->cancellable);
  worker->part = 0;
  g_free(worker->words);
  worker->words = g_strdup(words);
  g_autoptr(GTask) task = g_task_new(worker, worker->cancellable, on_run, g_object_ref(project));
  g_task_set_task_data(task, work, kind->free);
  g_task_run_in_thread(task, run);
  g_signal_emit(worker, changed, 0);
}

/* --- its bar --- */

typedef struct {
  CwWorker *worker;
  GtkWidget *bar, *words, *progress;
} Bar;

static void show_bar(Bar *bar)
{
  gtk_widget_set_visible(bar->bar, cw_worker_is_running(bar->worker));
  gtk_label_set_text(GTK_LABEL(bar->words), bar->worker->words);
  gtk_progress_bar_set_fraction(GTK_PROGRESS_BAR(bar->progress), CLAMP(bar->worker->part, 0, 1));
}

static void bar_free(gpointer data)
{
  g_object_unref(((Bar *)data)->worker);
  g_free(data);
}

GtkWidget *cw_worker_bar_new(CwWorker *worker)
{
  Bar *bar = g_new0(Bar, 1);
  GtkWidget *cancel = gtk_button_new_with_label(_("Cancel"));
  bar->worker = g_object_ref(worker);
  bar->bar = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 12);
  bar->words = gtk_label_new(NULL);
  bar->progress = gtk_progress_bar_new();
  gtk_widget_set_hexpand(bar->progress, TRUE);
  gtk_widget_set_valign(bar->progress, GTK_ALIGN_CENTER);
  gtk_widget_set_visible(bar->bar, FALSE);
  gtk_box_append(GTK_BOX(bar->bar), bar->words);
  gtk_box_append(GTK_BOX(bar->bar), bar->progress);
  gtk_box_append(GTK_BOX(bar->bar), cancel);
  g_object_set_data_full(G_OBJECT(bar->bar), "bar", bar, bar_free);
  g_signal_connect_swapped(cancel, "clicked", G_CALLBACK(cw_worker_cancel), worker);
  cw_connect_while_alive(worker, "changed", G_CALLBACK(show_bar), bar, bar->bar);
  return bar->bar;
}
