/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/map/map_check.h"
#include "job/practice/practice.h"
#include "job/takes/feeds.h"
#include <glib/gi18n-lib.h>

/* The bay's places beside the head. */
static const guint bay_place[] = {[CW_PROVING_LEFT] = 1, [CW_PROVING_RIGHT] = 2};

CwRecording *cw_job_practice_hear(const CwPracticeBay *bay, CwRecord *vehicle, gint64 output,
                                  CwProvingPlace place, guint64 seed, GError **error)
{
  CwPracticeRequest request = {.channels = 1, .seed = seed, .position = bay_place[place]};
  CwSweepFeed feed;
  guint route = (guint)output - 1;

  request.route = &route;
  if (!cw_job_proving_feed(vehicle, output, &feed, &request.rate_hz, error))
    return NULL;
  return cw_job_practice_play(bay, &feed, &request, error);
}

static gboolean hear_output(CwProject *project, const CwPracticeBay *bay, gint64 output, CwProvingPlace place,
                            GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_autoptr(CwRecording) recording =
      cw_job_practice_hear(bay, vehicle, output, place, (guint64)(7000 + 10 * output + place), error);
  g_autoptr(CwProvingOutcome) outcome =
      recording ? cw_job_prove_hear(vehicle, output, place, recording, error) : NULL;

  if (outcome)
    cw_job_prove_store(project, outcome);
  return outcome != NULL;
}

gboolean cw_job_practice_map(CwProject *project, const CwPracticeBay *bay, GCancellable *cancellable,
                             CwProgress progress, gpointer data, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  guint count = cw_list_get_length(speakers);

  for (int place = CW_PROVING_LEFT; place <= CW_PROVING_RIGHT; place++)
    for (guint i = 0; i < count; i++) {
      if (g_cancellable_set_error_if_cancelled(cancellable, error))
        return FALSE;
      if (progress)
        progress(((double)place + (double)i / count) / 2, _("Proving the channel map"), data);
      if (!hear_output(project, bay, cw_speaker_get_output(cw_list_get(speakers, i)), (CwProvingPlace)place,
                       error))
        return FALSE;
    }
  return cw_job_prove_judge(project, cw_vehicle_get_seats(vehicle)[0], error) &&
         cw_project_commit(project, _("Prove the channel map"), error);
}
