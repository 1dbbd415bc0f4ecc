/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "electrics/exposure.h"
#include "window/sound/sound_desk.h"
#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* How much of a day's allowance of noise the person in the car has had: what the calibrated microphone hears
 * while something plays or while it is listened to, second by second. It belongs to the day and not to a
 * vehicle, and goes on after the program was closed. Nothing counts in the practice bay. Signal: "changed".
 */
#define CW_TYPE_EXPOSURE_CLOCK (cw_exposure_clock_get_type())
G_DECLARE_FINAL_TYPE(CwExposureClock, cw_exposure_clock, CW, EXPOSURE_CLOCK, GObject)

/* The desk's one clock, borrowed; made when first asked for. */
CwExposureClock *cw_exposure_clock_at(CwSoundDesk *desk);

/* Where the microphone's level is taken from. */
void cw_exposure_clock_set_session(CwExposureClock *clock, CwSession *session);

/* How the day stands. */
const CwExposure *cw_exposure_clock_get_today(CwExposureClock *clock);

/* A line that says how the clock stands, and what the two rules are. */
GtkWidget *cw_exposure_label_new(CwSession *session, CwSoundDesk *desk);

G_END_DECLS
