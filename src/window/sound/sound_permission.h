/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/sound/sound_desk.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* Before real sound comes that could destroy a speaker, the person says that all is ready for it: once, or
 * once for each thing that it is about. The practice bay needs no word. A part of a page, made with the
 * page's first fields and cleared with it. */
typedef struct {
  GtkWidget *page;
  CwSoundDesk *desk;
  /* Does what was asked for; takes `what` over. */
  void (*go)(gpointer data, gpointer what);
  gpointer data;
  GDestroyNotify free_what; /* of what waits for an answer; may be NULL */

  gboolean given;
  gint64 given_about;
  gpointer what; /* that waits for the answer, and what it is about */
  gint64 about;
} CwSoundPermission;

typedef struct {
  const char *question, *detail, *yes;
} CwSoundPermissionWords;

/* Goes on with `what` (taken over), at once or after a yes. about: 0 where one yes does for all. */
void cw_sound_permission_ask(CwSoundPermission *consent, gint64 about, gpointer what,
                             const CwSoundPermissionWords *words);
void cw_sound_permission_clear(CwSoundPermission *consent);

G_END_DECLS
