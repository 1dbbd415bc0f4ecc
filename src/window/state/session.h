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

/* A session without a vehicle; sound is the client that its pages play by. The caller's reference. */
CwSession *cw_session_new(CwSoundClient *sound);

/* A window's session, for widgets that get none: whoever makes the window says which it is. NULL where nobody
 * has. */
void cw_session_serve(CwSession *session, GObject *window);
CwSession *cw_session_of(gpointer window);

/* Another project, or none; what is selected begins with the first output and seat. */
void cw_session_set_project(CwSession *session, CwProject *project);

/* The project, borrowed; NULL while none is open. */
CwProject *cw_session_get_project(CwSession *session);

/* The live vehicle, borrowed; NULL while none is open. */
CwRecord *cw_session_get_vehicle(CwSession *session);
CwSoundClient *cw_session_get_sound(CwSession *session);

/* Keeps what was edited since the last time as one step that can be undone, on the disk. FALSE, and the
 * person told, if it could not be kept. */
gboolean cw_session_commit(CwSession *session, const char *what);

/* The same; edits that follow each other closely under one merge key become one step. */
gboolean cw_session_commit_merging(CwSession *session, const char *what, const char *merge_key);

/* Says that something besides the vehicle changed in the project: its restore points. */
void cw_session_announce(CwSession *session);
void cw_session_undo(CwSession *session);
void cw_session_redo(CwSession *session);

/* Says something to the person, in the window's bar. What failed says what happened, what is safe and what to
 * do. */
void cw_session_tell(CwSession *session, CwTold kind, const char *format, ...) G_GNUC_PRINTF(3, 4);

/* The stage that is shown, CW_STAGE_SHEET to CW_STAGE_HAND_OVER. */
int cw_session_get_stage(CwSession *session);

/* Opens a stage's page, CW_STAGE_SHEET to CW_STAGE_HAND_OVER. */
void cw_session_set_stage(CwSession *session, int stage);

/* The output that is looked at, CW_NO_INTEGER for none. */
gint64 cw_session_get_output(CwSession *session);
void cw_session_set_output(CwSession *session, gint64 output);

/* Chooses several outputs, at least one; the first is the one that is looked at. */
void cw_session_set_outputs(CwSession *session, const gint64 *outputs, guint count);

/* The chosen outputs (gint64), the one that is looked at first; borrowed. */
const GArray *cw_session_get_outputs(CwSession *session);
gboolean cw_session_is_chosen(CwSession *session, gint64 output);

/* Whether edits of an output go to the other one of its left/right pair too. */
gboolean cw_session_get_linked(CwSession *session);
void cw_session_set_linked(CwSession *session, gboolean linked);

/* Whether what is predicted is of the chosen outputs alone. */
gboolean cw_session_get_solo(CwSession *session);
void cw_session_set_solo(CwSession *session, gboolean solo);

/* What cancels the long work that is on; NULL while there is none. */
GCancellable *cw_session_get_work(CwSession *session);
void cw_session_set_work(CwSession *session, GCancellable *work);

/* The seat that is looked at; borrowed. */
const char *cw_session_get_seat(CwSession *session);
void cw_session_set_seat(CwSession *session, const char *seat);

/* The output whose speaker sounds now, CW_NO_INTEGER for none. */
gint64 cw_session_get_playing(CwSession *session);
void cw_session_set_playing(CwSession *session, gint64 output);

G_END_DECLS
