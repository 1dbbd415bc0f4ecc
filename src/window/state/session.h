/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "sound/client/client.h"
#include "vehicle/kinds/kinds.h"
#include "vehicle/project/project.h"

G_BEGIN_DECLS

/* What one window works on: the project, what is selected, and the sound. Pages and panes hold nothing of
 * their own that counts; they show the session and change it.
 *
 * Signals:
 *   changed ()                                the vehicle, or which vehicle; gathered, at most once a turn of
 * the main loop selection-changed ()                      output, seat, stage, the speaker that plays, or the
 * work that is on told (int kind, const char *text)         something to say to the person, see
 * cw_session_tell() */
#define CW_TYPE_SESSION (cw_session_get_type())
G_DECLARE_FINAL_TYPE(CwSession, cw_session, CW, SESSION, GObject)

typedef enum { CW_TOLD_DONE, CW_TOLD_ATTEND, CW_TOLD_FAILED } CwTold;

CwSession *cw_session_new(CwSoundClient *sound);

/* A window's session, for widgets that get none: whoever makes the window says which it is. NULL where nobody
 * has. */
void cw_session_serve(CwSession *session, GObject *window);
CwSession *cw_session_of(gpointer window);

void cw_session_set_project(CwSession *session, CwProject *project);
CwProject *cw_session_get_project(CwSession *session);
CwRecord *cw_session_get_vehicle(CwSession *session);
CwSoundClient *cw_session_get_sound(CwSession *session);

gboolean cw_session_commit(CwSession *session, const char *what);
gboolean cw_session_commit_merging(CwSession *session, const char *what, const char *merge_key);
void cw_session_announce(CwSession *session);
void cw_session_undo(CwSession *session);
void cw_session_redo(CwSession *session);

void cw_session_tell(CwSession *session, CwTold kind, const char *format, ...) G_GNUC_PRINTF(3, 4);

int cw_session_get_stage(CwSession *session);
void cw_session_set_stage(CwSession *session, int stage);
gint64 cw_session_get_output(CwSession *session);
void cw_session_set_output(CwSession *session, gint64 output);
void cw_session_set_outputs(CwSession *session, const gint64 *outputs, guint count);
const GArray *cw_session_get_outputs(CwSession *session);
gboolean cw_session_is_chosen(CwSession *session, gint64 output);
gboolean cw_session_get_linked(CwSession *session);
void cw_session_set_linked(CwSession *session, gboolean linked);
gboolean cw_session_get_solo(CwSession *session);
void cw_session_set_solo(CwSession *session, gboolean solo);
GCancellable *cw_session_get_work(CwSession *session);
void cw_session_set_work(CwSession *session, GCancellable *work);
const char *cw_session_get_seat(CwSession *session);
void cw_session_set_seat(CwSession *session, const char *seat);
gint64 cw_session_get_playing(CwSession *session);
void cw_session_set_playing(CwSession *session, gint64 output);

G_END_DECLS
