/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/recording.h"
#include "measuring/feed.h"
#include "simulator/practice_bay.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* Which car of the practice bay stands in for a vehicle. */

/* The car's name in the bay, by the vehicle's reference; static, NULL with error where none stands in for it.
 */
const char *cw_job_practice_car(CwRecord *vehicle, GError **error);

/* A demo vehicle: "alder-tourer" or "rowan-van". The caller's. */
CwRecord *cw_job_practice_vehicle(const char *car, GError **error);

/* The bay with a car in it, its processor loaded with a table in JSON unless that is NULL. Free with
 * cw_practice_bay_free(). */
CwPracticeBay *cw_job_practice_bay_of(const char *car, const char *table, GError **error);

/* Plays a feed in the bay, the same on every channel of the request (of a feed with markers, the sweeps on
 * the first and the markers on the others), and gives what microphone and cable record. The request holds
 * seat, position, rate_hz, channels, route and seed; its feed and lengths are filled in here. The caller's.
 */
CwRecording *cw_job_practice_play(const CwPracticeBay *bay, const CwSweepFeed *feed,
                                  CwPracticeRequest *request, GError **error);

G_END_DECLS
