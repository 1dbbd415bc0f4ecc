/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/map/map_check.h"
#include "job/practice/practice_car.h"
#include "job/proof/proof.h"
#include "job/takes/takes.h"
#include "simulator/practice_bay.h"

G_BEGIN_DECLS

/* The practice bay that stands in for a vehicle, known by the vehicle's reference; NULL with error where none
 * does. Free with cw_practice_bay_free(). */
CwPracticeBay *cw_job_practice_bay(CwRecord *vehicle, GError **error);

/* Measures every output at every position of a seat in the bay, as a technician would with a loopback, and
 * commits output by output. */
gboolean cw_job_practice_measure(CwProject *project, const CwPracticeBay *bay, const char *seat,
                                 GCancellable *cancellable, CwProgress progress, gpointer data,
                                 GError **error);

/* The proving run through all outputs in the bay, at both places beside the first seat's head; judged and
 * committed. */
gboolean cw_job_practice_map(CwProject *project, const CwPracticeBay *bay, GCancellable *cancellable,
                             CwProgress progress, gpointer data, GError **error);

/* One recording of it. The caller's. */
CwRecording *cw_job_practice_hear(const CwPracticeBay *bay, CwRecord *vehicle, gint64 output,
                                  CwProvingPlace place, guint64 seed, GError **error);

/* One take in the bay: the recording that the feed of an output gives at a position. The caller's. */
CwRecording *cw_job_practice_record(const CwPracticeBay *bay, CwRecord *vehicle, gint64 output,
                                    const char *position, guint64 seed, GError **error);

/* The bay with the vehicle's settings in its processor. Free with cw_practice_bay_free(). */
CwPracticeBay *cw_job_practice_tuned_bay(CwRecord *vehicle, GError **error);

/* What microphone and cable record there of the proof's feed, played into the left input, the right one or
 * both. The caller's. */
CwRecording *cw_job_practice_record_side(const CwPracticeBay *bay, CwRecord *vehicle, CwSum side,
                                         const char *position, guint64 seed, GError **error);

/* Loads the vehicle's settings into its car's processor and measures them again at every position of a seat,
 * from the left input, the right one and both; commits what came of it. */
gboolean cw_job_practice_prove(CwProject *project, const char *seat, GCancellable *cancellable,
                               CwProgress progress, gpointer data, GError **error);

/* The whole job: survey, map, gains, measure, tune, prove. */
gboolean cw_job_practice(CwProject *project, GCancellable *cancellable, CwProgress progress, gpointer data,
                         GError **error);

G_END_DECLS
