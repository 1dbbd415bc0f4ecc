/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

G_BEGIN_DECLS

/* Edits by hand that reach several outputs: the chosen ones, and with the session's link also the other
 * output of each left/right pair. Gain and delay move by the same amount, so that differences between outputs
 * stay; polarity turns with; muting is the same for all; a filter changes in every output that has the same
 * one. None of these commits. */

/* The other output of a left/right pair, as the tuning pairs them; CW_NO_INTEGER if there is none. */
gint64 cw_pair_of(CwRecord *vehicle, gint64 output);

/* Brings the others after an edited tune output (CwTuneOutput) or one of its sections. What changed is what
 * differs from the last commit: it may be called again while a drag goes on. Other records are left alone. */
void cw_linking_follow(CwSession *session, CwRecord *edited);

/* Adds the section, new in one output, to the others; one that is of no output goes to none. */
void cw_linking_add(CwSession *session, CwRecord *section);

/* Removes the section from its owner, and its equals from the other outputs. */
void cw_linking_remove(CwSession *session, CwRecord *section);

/* Corrections off or on, in the owner of sections and, if it is an output, the others. */
void cw_linking_set_bypass(CwSession *session, CwRecord *owner, gboolean bypass);

/* Gives an output the filters of another: crossovers and corrections; gain, delay and polarity stay, as they
 * belong to the place. */
void cw_linking_copy_filters(CwSession *session, gint64 from, gint64 to);

G_END_DECLS
