/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/recording.h"
#include "vehicle/project/project.h"

G_BEGIN_DECLS

/* The factory radio of the practice bay: the survey rehearsed without a car. take is one of the track index's
 * (CwTrackTake). */

/* How many leads the radio of the vehicle's practice car has; 0 where it has no radio. */
guint cw_job_practice_radio_leads(CwRecord *vehicle);

/* The volume step at which the practice radio plays a take. */
gint64 cw_job_practice_radio_step(CwRecord *vehicle, CwRecord *take);

/* The bay's setup text (for cw_sound_client_set_practice()) with the interface on the radio's leads, one a
 * device input, and the radio playing the take's track from track_path with the take's volume and fader. The
 * radio begins a little after the device was opened. The caller's. */
char *cw_job_practice_radio_setup(CwRecord *vehicle, CwRecord *take, const char *track_path,
                                  const char *seat_setting, const int *leads, guint n_leads, GError **error);

/* The same take recorded at once, faster than it sounds, without the sound helper. The caller's. */
CwRecording *cw_job_practice_radio_record(CwRecord *vehicle, CwRecord *take, const char *seat_setting,
                                          const int *leads, guint n_leads, guint64 seed, GError **error);

/* The volts track recorded at once from one lead, a few seconds of it, and what the bay's multimeter, which
 * shows millivolts, reads there. The caller's. */
CwRecording *cw_job_practice_tone(CwRecord *vehicle, int lead, guint64 seed, double *meter_v, GError **error);

/* The whole survey in the bay, all leads at once, with the volts by the bay's multimeter, stored and
 * committed. Does nothing where the car has no radio. */
gboolean cw_job_practice_survey(CwProject *project, GCancellable *cancellable, CwProgress progress,
                                gpointer data, GError **error);

G_END_DECLS
