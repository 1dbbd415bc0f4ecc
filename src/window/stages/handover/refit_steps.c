/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/handover/refit_steps.h"

#include "job/input_file.h"
#include "job/tuning/refit.h"
#include "window/widgets/questions.h"

#include <glib/gi18n-lib.h>
#include <math.h>

typedef struct {
  CwSession *session;
  GtkWidget *parent;
  char *project_path, *profile_path, *path;
  CwRefitCost cost;
} Refit;

static void refit_free(gpointer data)
{
  Refit *refit = data;
  g_object_unref(refit->session);
  g_object_unref(refit->parent);
  g_free(refit->project_path);
  g_free(refit->profile_path);
  g_free(refit->path);
  g_free(refit);
}

static CwRecord *read_processor(const char *path, GError **error)
{
  gsize length;
  g_autofree char *text = cw_job_read_file(path, CW_DOCUMENT_MOST_BYTES, &length, error);
  return text ? cw_job_read_processor(text, length, error) : NULL;
}

/* Reads the vehicle from its file, which always holds what stands in the window. */
static void run(GTask *task, gpointer source, gpointer data, GCancellable *cancellable)
{
  Refit *refit = data;
  GError *error = NULL;
  g_autoptr(CwRecord) processor = read_processor(refit->profile_path, &error);
  g_autoptr(CwProject) project = processor ? cw_project_open_read_only(refit->project_path, &error) : NULL;
  if (project && cw_job_refit(project, processor, refit->path, &refit->cost, &error))
    g_task_return_boolean(task, TRUE);
  else
    g_task_return_error(task, error);
}

/* What became of the inputs' correction, as a sentence after others; "" where there is none. */
static char *say_inputs(const CwInputsCost *cost)
{
  if (isnan(cost->before_db))
    return g_strdup("");
  if (isnan(cost->after_db))
    return g_strdup(_(" The leads' mix cannot be corrected by it."));
  g_autofree char *redone =
      cost->redone
          ? g_strdup_printf(ngettext(" %u input that was set by hand was worked out anew.",
                                     " %u inputs that were set by hand were worked out anew.", cost->redone),
                            cost->redone)
          : g_strdup("");
  return g_strdup_printf(_(" The leads' mix is flat within ±%.1f dB instead of ±%.1f dB.%s"), cost->after_db,
                         cost->before_db, redone);
}

static void on_done(GObject *source, GAsyncResult *result, gpointer unused)
{
  Refit *refit = g_task_get_task_data(G_TASK(result));
  g_autoptr(GError) error = NULL;
  if (!g_task_propagate_boolean(G_TASK(result), &error)) {
    cw_session_tell(refit->session, CW_TOLD_FAILED, _("Not refitted: %s. This vehicle is as it was."),
                    error->message);
    return;
  }
  g_autofree char *inputs = say_inputs(&refit->cost.inputs);
  cw_session_tell(
      refit->session, CW_TOLD_DONE,
      _("Refitted with %u filters instead of %u: each side moves by %.1f dB, and is %.1f dB from the target "
        "instead of %.1f dB.%s It is in %s."),
      refit->cost.filters_after, refit->cost.filters_before, refit->cost.moved_side_db,
      refit->cost.after_side_db, refit->cost.before_side_db, inputs, refit->path);
}

static void on_path(const char *path, gpointer data)
{
  Refit *asked = data, *refit = g_new0(Refit, 1);
  *refit = (Refit){.session = g_object_ref(asked->session),
                   .parent = g_object_ref(asked->parent),
                   .project_path = g_strdup(asked->project_path),
                   .profile_path = g_strdup(asked->profile_path),
                   .path = g_strdup(path)};
  g_autoptr(GTask) task = g_task_new(refit->session, NULL, on_done, NULL);
  cw_session_tell(refit->session, CW_TOLD_DONE, _("Fitting the tune to the other processor…"));
  g_task_set_task_data(task, refit, refit_free);
  g_task_run_in_thread(task, run);
}

/* A profile that cannot be read is told before a name for the new file is asked for. */
static void on_profile(const char *path, gpointer data)
{
  Refit *asked = data;
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) processor = read_processor(path, &error);
  if (!processor) {
    cw_session_tell(asked->session, CW_TOLD_FAILED, _("Not a processor's profile: %s."), error->message);
    return;
  }
  Refit *next = g_new0(Refit, 1);
  *next = (Refit){.session = g_object_ref(asked->session),
                  .parent = g_object_ref(asked->parent),
                  .project_path = g_strdup(asked->project_path),
                  .profile_path = g_strdup(path)};
  g_autofree char *base = g_path_get_basename(asked->project_path);
  g_autofree char *name = g_strdup_printf(_("Refitted %s"), base);
  cw_ask_path(asked->parent, GTK_FILE_CHOOSER_ACTION_SAVE, _("Write the refitted vehicle"), name,
              _("Vehicles"), "*.cabin", on_path, next, refit_free);
}

void cw_refit_ask(GtkWidget *parent, CwSession *session)
{
  Refit *refit = g_new0(Refit, 1);
  *refit = (Refit){.session = g_object_ref(session),
                   .parent = g_object_ref(parent),
                   .project_path = g_strdup(cw_project_get_path(cw_session_get_project(session)))};
  cw_ask_path(parent, GTK_FILE_CHOOSER_ACTION_OPEN,
              _("The other processor, or an intake sheet that names it"), NULL,
              _("Profiles and intake sheets"), "*.json", on_profile, refit, refit_free);
}
