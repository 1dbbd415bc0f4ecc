/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/practice/practice_car.h"
#include "job/findings/review.h"
#include "job/job_error.h"
#include "job/takes/feeds.h"
#include "vehicle/json/document.h"
#include "vehicle/json/json_write.h"

static const char *const cars[] = {"alder-tourer", "rowan-van"};

CwPracticeBay *cw_job_practice_bay_of(const char *car, const char *table, GError **error)
{
  g_autoptr(GString) text = g_string_new("{");

  cw_append_json_text_member(text, "car", car);
  g_string_append_c(text, '}');
  g_autoptr(CwPracticeSetup) setup = cw_practice_setup_parse(text->str, error);
  if (!setup || (table && !cw_practice_setup_load_table(setup, table, error)))
    return NULL;
  return cw_practice_bay_new(g_steal_pointer(&setup));
}

CwRecord *cw_job_practice_vehicle(const char *car, GError **error)
{
  g_autoptr(CwPracticeBay) bay = cw_job_practice_bay_of(car, NULL, error);
  g_autofree char *intake = bay ? cw_practice_bay_intake(bay) : NULL;
  CwRecord *vehicle = intake ? cw_record_from_json(cw_vehicle_get_type(), intake, -1, error) : NULL;

  if (vehicle)
    cw_job_review(vehicle);
  return vehicle;
}

const char *cw_job_practice_car(CwRecord *vehicle, GError **error)
{
  const char *reference = cw_vehicle_get_reference(vehicle);

  for (guint i = 0; i < G_N_ELEMENTS(cars); i++) {
    g_autoptr(CwRecord) known = cw_job_practice_vehicle(cars[i], error);
    if (!known)
      return NULL;
    if (g_str_equal(cw_vehicle_get_reference(known), reference))
      return cars[i];
  }
  g_set_error(error, CW_JOB_ERROR, CW_JOB_ERROR_VEHICLE,
              "the practice bay has no car for %s; it stands in for the two demo vehicles alone", reference);
  return NULL;
}

CwRecording *cw_job_practice_play(const CwPracticeBay *bay, const CwSweepFeed *feed,
                                  CwPracticeRequest *request, GError **error)
{
  g_autoptr(CwRecording) played = cw_job_render_feed(feed, request->rate_hz);
  g_autofree float *samples = g_new(float, played->frames * request->channels);

  for (gsize i = 0; i < played->frames * request->channels; i++) {
    gsize channel = feed->has_marker ? MIN(i % request->channels, played->channels - 1) : 0;
    samples[i] = (float)played->channel[channel][i / request->channels];
  }
  request->feed = samples;
  request->frames = played->frames;
  request->record_frames = played->frames + (gsize)(0.2 * request->rate_hz);
  g_autofree float *heard = cw_practice_bay_record(bay, request, error);
  request->feed = NULL;
  return heard ? cw_recording_from_floats(request->rate_hz, CW_PRACTICE_INPUTS, request->record_frames, heard)
               : NULL;
}
