/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One wrapper around the file chooser and the question, so that their successors in later GTK change this
 * file alone. */
#include "window/widgets/questions.h"

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

void cw_ask_path(GtkWidget *parent, GtkFileChooserAction action, const char *title, const char *name,
                 const char *filter_name, const char *pattern, CwPathChosen chosen, gpointer data,
                 GDestroyNotify free_data)
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

typedef struct {
  CwConfirmed confirmed;
  gpointer data;
} Confirmation;

static void confirmation_free(gpointer data, GClosure *closure)
{
  g_free(data);
}

static void on_confirm_response(GtkDialog *dialog, int response, Confirmation *confirmation)
{
  CwConfirmed confirmed = response == GTK_RESPONSE_ACCEPT ? confirmation->confirmed : NULL;
  gpointer data = confirmation->data;
  gtk_window_destroy(GTK_WINDOW(dialog));
  if (confirmed)
    confirmed(data);
}

void cw_ask_consent(GtkWidget *parent, const char *question, const char *detail, const char *yes,
                    CwConfirmed confirmed, gpointer data)
{
  Confirmation *confirmation = g_new0(Confirmation, 1);
  *confirmation = (Confirmation){confirmed, data};
  GtkWidget *dialog = gtk_message_dialog_new(GTK_WINDOW(gtk_widget_get_root(parent)),
                                             GTK_DIALOG_MODAL | GTK_DIALOG_DESTROY_WITH_PARENT,
                                             GTK_MESSAGE_QUESTION, GTK_BUTTONS_NONE, "%s", question);
  gtk_message_dialog_format_secondary_text(GTK_MESSAGE_DIALOG(dialog), "%s", detail);
  gtk_dialog_add_buttons(GTK_DIALOG(dialog), _("_Cancel"), GTK_RESPONSE_CANCEL, yes, GTK_RESPONSE_ACCEPT,
                         NULL);
  gtk_dialog_set_default_response(GTK_DIALOG(dialog), GTK_RESPONSE_ACCEPT);
  g_signal_connect_data(dialog, "response", G_CALLBACK(on_confirm_response), confirmation, confirmation_free,
                        0);
  gtk_window_present(GTK_WINDOW(dialog));
}
