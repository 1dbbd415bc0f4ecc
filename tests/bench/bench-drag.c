/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How long after a motion of the mouse the window is drawn: a handle of the filter editor is dragged across
 * the whole Alder Tourer, tuned, in the real window (a car already tuned may be named), and each time from
 * the motion to the end of the frame is taken by GTK's frame clock. The bar is a frame of 60 a second. Needs
 * a display; run it under Xvfb with GSK_RENDERER=cairo, which draws without a graphics card. */
#include "job/practice/practice.h"
#include "window/filters/filter_handles.h"
#include "window/shell/application.h"
#include "window/shell/window.h"

#include <glib/gstdio.h>
#include <math.h>
#include <time.h>

#define BAR_MS 16.0
#define MOTIONS 200
#define SETTLE_MS 20 /* so that the clock is free to begin the frame at once */

static gint64 painted_us;

static void on_after_paint(GdkFrameClock *clock, gpointer unused)
{
  painted_us = g_get_monotonic_time();
}

static gboolean on_timeout(gpointer due)
{
  *(gboolean *)due = TRUE;
  return G_SOURCE_REMOVE;
}

/* Lets the main loop run for a time, or until a frame was drawn after `since`. */
static void run(gint64 since_us, guint most_ms)
{
  gboolean due = FALSE;
  guint timeout = g_timeout_add(most_ms, on_timeout, &due);
  while (!due && !(since_us && painted_us > since_us))
    g_main_context_iteration(NULL, TRUE);
  if (!due)
    g_source_remove(timeout);
}

/* Those of the page that is seen: other pages have such handles too. */
static GtkWidget *find_handles(GtkWidget *widget)
{
  if (CW_IS_FILTER_HANDLES(widget) && gtk_widget_get_mapped(widget))
    return widget;
  for (GtkWidget *child = gtk_widget_get_first_child(widget); child;
       child = gtk_widget_get_next_sibling(child)) {
    GtkWidget *found = find_handles(child);
    if (found)
      return found;
  }
  return NULL;
}

static GtkGesture *find_drag(GtkWidget *widget)
{
  g_autoptr(GListModel) controllers = gtk_widget_observe_controllers(widget);
  for (guint i = 0; i < g_list_model_get_n_items(controllers); i++) {
    g_autoptr(GObject) controller = g_list_model_get_item(controllers, i);
    if (GTK_IS_GESTURE_DRAG(controller))
      return GTK_GESTURE(controller);
  }
  return NULL;
}

static int compare(const void *a, const void *b)
{
  double one = *(const double *)a, other = *(const double *)b;
  return (one > other) - (one < other);
}

static double cpu_ms(void)
{
  struct timespec now;
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return 1e3 * (double)now.tv_sec + 1e-6 * (double)now.tv_nsec;
}

/* Drags the second section's handle along a circle. */
static void drag(GtkWidget *handles, double *ms, double *work_ms)
{
  GtkGesture *gesture = find_drag(handles);
  double x, y;
  g_assert_true(cw_filter_handles_get_place(CW_FILTER_HANDLES(handles), 1, &x, &y));
  g_signal_emit_by_name(gesture, "drag-begin", x, y);
  for (guint i = 0; i < MOTIONS; i++) {
    double angle = 2 * G_PI * i / 50;
    run(0, SETTLE_MS);
    gint64 begun = g_get_monotonic_time();
    double work_begun = cpu_ms();
    g_signal_emit_by_name(gesture, "drag-update", 40 * sin(angle), 30 * (1 - cos(angle)) + 0.1 * i);
    run(begun, 1000);
    work_ms[i] = cpu_ms() - work_begun;
    ms[i] = 1e-3 * (double)(painted_us - begun);
  }
  g_signal_emit_by_name(gesture, "drag-end", 0.0, 0.0);
}

static CwProject *make_car(const char *path)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = cw_job_practice_vehicle("alder-tourer", &error);
  g_autoptr(CwProject) project = cw_project_create(path, vehicle, &error);
  g_assert_no_error(error);
  cw_job_practice(project, NULL, NULL, NULL, &error);
  g_assert_no_error(error);
  return g_steal_pointer(&project);
}

int main(int argc, char **argv)
{
  g_autoptr(GError) error = NULL;
  double ms[MOTIONS], work_ms[MOTIONS];
  if (!gtk_init_check()) {
    g_print("SKIP: no display\n");
    return 77;
  }
  g_autofree char *folder = g_dir_make_tmp("drag-XXXXXX", NULL),
                  *path = g_build_filename(folder, "car.cabin", NULL);
  g_autoptr(CwProject) project = argc > 1 ? cw_project_open(argv[1], &error) : make_car(path);
  g_assert_no_error(error);
  g_autoptr(CwApplication) application = cw_application_new();
  g_application_set_flags(G_APPLICATION(application), G_APPLICATION_NON_UNIQUE);
  g_assert_true(g_application_register(G_APPLICATION(application), NULL, &error));
  cw_application_show_project(application, project, NULL);
  GtkWindow *window = gtk_application_get_active_window(GTK_APPLICATION(application));
  gtk_window_set_default_size(window, 1366, 768);
  cw_session_set_stage(cw_window_get_session(CW_WINDOW(window)), CW_STAGE_TUNING);
  g_signal_connect(gdk_surface_get_frame_clock(gtk_native_get_surface(GTK_NATIVE(window))), "after-paint",
                   G_CALLBACK(on_after_paint), NULL);
  run(0, 1500);
  drag(find_handles(GTK_WIDGET(window)), ms, work_ms);
  qsort(ms, MOTIONS, sizeof *ms, compare);
  qsort(work_ms, MOTIONS, sizeof *work_ms, compare);
  g_print("from a motion of the mouse to the end of the frame: median %.1f ms, nine of ten within %.1f ms, "
          "worst %.1f ms (bar %.0f ms);\nprocessor time of the main thread, median %.1f ms\n",
          ms[MOTIONS / 2], ms[MOTIONS * 9 / 10], ms[MOTIONS - 1], BAR_MS, work_ms[MOTIONS / 2]);
  gtk_window_destroy(window);
  g_unlink(path);
  g_rmdir(folder);
  return ms[MOTIONS / 2] < BAR_MS ? 0 : 1;
}
