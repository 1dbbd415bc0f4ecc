/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One wrapper around the file chooser, so that its successor in later GTK changes this file alone. */
#include "window/dialogs.h"

#include <glib/gi18n-lib.h>

typedef struct {
  CwPathChosen chosen;
  gpointer data;
  GDestroyNotify free_data;
} Question;

static void question_free(gpointer data, GClosure *closure)
{
  Question *question = data;
  if (question->free_data)
    question->free_data(question->data);
  g_free(question);
}

static void on_response(GtkNativeDialog *dialog, int response, Question *question)
{
  g_autoptr(GFile) file = gtk_file_chooser_get_file(GTK_FILE_CHOOSER(dialog));
  g_autofree char *path = file ? g_file_get_path(file) : NULL;
  gtk_native_dialog_hide(dialog);
  if (response == GTK_RESPONSE_ACCEPT && path)
    question->chosen(path, question->data);
  g_object_unref(dialog);
}

void cw_dialogs_choose_path(GtkWidget *parent, GtkFileChooserAction action, const char *title,
                            const char *name, const char *filter_name, const char *pattern,
                            CwPathChosen chosen, gpointer data, GDestroyNotify free_data)
{
  gboolean saves = action == GTK_FILE_CHOOSER_ACTION_SAVE;
  Question *question = g_new0(Question, 1);
  *question = (Question){chosen, data, free_data};
  GtkWindow *window = GTK_WINDOW(gtk_widget_get_root(parent));
  GtkFileChooserNative *dialog =
      gtk_file_chooser_native_new(title, window, action, saves ? _("_Save") : _("_Open"), _("_Cancel"));
  if (pattern) {
    g_autoptr(GtkFileFilter) filter = gtk_file_filter_new();
    gtk_file_filter_set_name(filter, filter_name);
    gtk_file_filter_add_pattern(filter, pattern);
    gtk_file_chooser_add_filter(GTK_FILE_CHOOSER(dialog), filter);
  }
  if (saves && name)
    gtk_file_chooser_set_current_name(GTK_FILE_CHOOSER(dialog), name);
  gtk_native_dialog_set_modal(GTK_NATIVE_DIALOG(dialog), TRUE);
  g_signal_connect_data(dialog, "response", G_CALLBACK(on_response), question, question_free, 0);
  gtk_native_dialog_show(GTK_NATIVE_DIALOG(dialog));
}
