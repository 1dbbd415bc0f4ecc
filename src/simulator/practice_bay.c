/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "simulator/practice_bay.h"
#include "simulator/practice_cabin.h"
#include "simulator/practice_drive.h"
#include "simulator/practice_error.h"
#include "simulator/practice_stream.h"

#include <json-glib/json-glib.h>
#include <math.h>
#include <string.h>

#define BLOCK 1024u

struct CwPracticeBay {
  CwPracticeSetup *setup;
};

CwPracticeBay *cw_practice_bay_new(CwPracticeSetup *setup)
{
  g_return_val_if_fail(setup != NULL, NULL);
  CwPracticeBay *bay = g_new0(CwPracticeBay, 1);
  bay->setup = setup;
  return bay;
}

void cw_practice_bay_free(CwPracticeBay *bay)
{
  if (!bay)
    return;
  cw_practice_setup_free(bay->setup);
  g_free(bay);
}

const CwPracticeSetup *cw_practice_bay_get_setup(const CwPracticeBay *bay)
{
  return bay->setup;
}

guint cw_practice_bay_get_outputs(const CwPracticeBay *bay)
{
  return cw_practice_setup_get_outputs(bay->setup);
}

static gboolean check_route(const CwPracticeBay *bay, const CwPracticeRequest *request, GError **error)
{
  for (guint i = 0; i < request->channels; i++)
    if (request->route[i] >= cw_practice_bay_get_outputs(bay)) {
      g_set_error(error, CW_PRACTICE_ERROR, CW_PRACTICE_ERROR_REQUEST,
                  "Practice bay: route: output %u, expected below %u", request->route[i],
                  cw_practice_bay_get_outputs(bay));
      return FALSE;
    }
  if (fabs(request->clock_ppm) <= 500)
    return TRUE;
  g_set_error(error, CW_PRACTICE_ERROR, CW_PRACTICE_ERROR_REQUEST,
              "Practice bay: clock_ppm: expected -500 to 500");
  return FALSE;
}

static guint32 used_outputs(const CwPracticeRequest *request)
{
  guint32 used = 0;
  for (guint i = 0; i < request->channels; i++)
    used |= 1u << request->route[i];
  return used;
}

/* One block of the feed, spread over the device's outputs. */
static void spread_feed(const CwPracticeRequest *request, gsize from, guint outputs, float *output)
{
  memset(output, 0, (gsize)BLOCK * outputs * sizeof *output);
  gsize count = from < request->frames ? MIN((gsize)BLOCK, request->frames - from) : 0;
  for (gsize frame = 0; frame < count; frame++)
    for (guint i = 0; i < request->channels; i++)
      output[frame * outputs + request->route[i]] += request->feed[(from + frame) * request->channels + i];
}

/* Sample `at` (whole and part) of channel 0 or 1 between samples, by a sinc under a cosine-squared window
 * of 64. */
static double between(const float *sample, gsize frames, guint channel, double at)
{
  enum { HALF = 32 };
  gssize whole = (gssize)floor(at);
  double part = at - (double)whole, sum = 0;
  if (part == 0)
    return whole < (gssize)frames ? sample[whole * CW_PRACTICE_INPUTS + channel] : 0;
  double sine = sin(G_PI * part) / G_PI;
  for (int k = -HALF + 1; k <= HALF; k++) {
    gssize index = whole + k;
    if (index < 0 || index >= (gssize)frames)
      continue;
    double x = k - part, window = cos(G_PI * x / (2 * HALF + 2));
    sum += sample[index * CW_PRACTICE_INPUTS + channel] * (k & 1 ? sine : -sine) / x * window * window;
  }
  return sum;
}

/* What a recorder with its own clock makes of the samples. */
static float *shift_clock(const float *sample, gsize frames, double ppm, gsize wanted)
{
  float *shifted = g_new(float, wanted *CW_PRACTICE_INPUTS);
  for (gsize i = 0; i < wanted; i++)
    for (guint channel = 0; channel < CW_PRACTICE_INPUTS; channel++)
      shifted[i * CW_PRACTICE_INPUTS + channel] =
          (float)between(sample, frames, channel, (double)i / (1 + ppm * 1e-6));
  return shifted;
}

float *cw_practice_bay_record(const CwPracticeBay *bay, const CwPracticeRequest *request, GError **error)
{
  g_return_val_if_fail(bay != NULL && request != NULL && (request->feed != NULL || request->frames == 0),
                       NULL);
  if (!check_route(bay, request, error))
    return NULL;
  gsize delay = (gsize)lrint(bay->setup->car->latency_ms * request->rate_hz / 1000);
  CwPracticeStream *stream =
      cw_practice_stream_new(bay->setup, request->rate_hz, BLOCK, delay, used_outputs(request), request->seat,
                             request->position, request->seed, error);
  if (!stream)
    return NULL;
  cw_practice_stream_set_quiet(stream, request->quiet);
  guint outputs = cw_practice_bay_get_outputs(bay);
  gsize wanted = request->record_frames ? request->record_frames : request->frames;
  gsize needed = wanted + (gsize)(fabs(request->clock_ppm) * 1e-6 * (double)wanted) + 64;
  gsize frames = (needed + BLOCK - 1) / BLOCK * BLOCK;
  float *output = g_new(float, (gsize)BLOCK *outputs);
  float *input = g_new(float, frames *CW_PRACTICE_INPUTS);
  for (gsize from = 0; from < frames; from += BLOCK) {
    spread_feed(request, from, outputs, output);
    cw_practice_stream_run(stream, output, input + from * CW_PRACTICE_INPUTS);
  }
  g_free(output);
  cw_practice_stream_free(stream);
  if (request->clock_ppm == 0)
    return input;
  float *shifted = shift_clock(input, frames, request->clock_ppm, wanted);
  g_free(input);
  return shifted;
}

/* The intake sheet. */

static double distance_cm(const CwPracticePoint *a, const CwPracticePoint *b)
{
  double metres = sqrt(pow(a->x_m - b->x_m, 2) + pow(a->y_m - b->y_m, 2) + pow(a->z_m - b->z_m, 2));
  return round(metres * 200) / 2; /* a tape measure is read to half a centimetre */
}

static void write_speaker(JsonBuilder *json, const CwPracticeCar *car, const CwPracticeSpeaker *speaker)
{
  const struct {
    const char *key;
    double value;
  } numbers[] = {{"lowest_hz", speaker->lowest_hz},
                 {"fs_hz", speaker->fs_hz},
                 {"nominal_ohm", speaker->nominal_ohm},
                 {"rated_w", speaker->rated_w}};
  json_builder_begin_object(json);
  json_builder_add_int_value(json_builder_set_member_name(json, "output"), speaker->output);
  json_builder_add_string_value(json_builder_set_member_name(json, "name"), speaker->name);
  json_builder_add_string_value(json_builder_set_member_name(json, "way"), speaker->way);
  json_builder_add_string_value(json_builder_set_member_name(json, "side"), speaker->side);
  for (guint i = 0; i < G_N_ELEMENTS(numbers); i++)
    json_builder_add_double_value(json_builder_set_member_name(json, numbers[i].key), numbers[i].value);
  json_builder_begin_object(json_builder_set_member_name(json, "distance_cm"));
  for (guint i = 0; i < car->seats; i++)
    json_builder_add_double_value(json_builder_set_member_name(json, car->seat[i].name),
                                  distance_cm(&speaker->at, &car->seat[i].head));
  json_builder_end_object(json);
  json_builder_end_object(json);
}

/* The microphone's sheet: its response in third octaves. */
static void write_microphone(JsonBuilder *json, const CwPracticeCar *car)
{
  json_builder_begin_object(json_builder_set_member_name(json, "microphone"));
  json_builder_begin_array(json_builder_set_member_name(json, "calibration"));
  for (int i = 10; i <= 44; i++) {
    double hz = pow(10, i / 10.0);
    json_builder_begin_array(json);
    json_builder_add_double_value(json, round(hz * 100) / 100);
    json_builder_add_double_value(json, round(cw_practice_microphone_db(car, hz) * 1000) / 1000);
    json_builder_end_array(json);
  }
  json_builder_end_array(json);
  json_builder_add_double_value(json_builder_set_member_name(json, "spl_at_full_scale"),
                                car->spl_at_full_scale);
  json_builder_end_object(json);
}

char *cw_practice_bay_intake(const CwPracticeBay *bay)
{
  const CwPracticeCar *car = bay->setup->car;
  JsonBuilder *json = json_builder_new();
  json_builder_begin_object(json);
  /* What the description says of its own sheet comes first: reference, driver's side, amplifiers, processor.
   */
  JsonNode *sheet = json_from_string(car->sheet, NULL);
  GList *members = sheet ? json_object_get_members(json_node_get_object(sheet)) : NULL;
  for (GList *at = members; at; at = at->next)
    json_builder_add_value(json_builder_set_member_name(json, at->data),
                           json_node_copy(json_object_get_member(json_node_get_object(sheet), at->data)));
  g_list_free(members);
  json_builder_begin_array(json_builder_set_member_name(json, "seats"));
  for (guint i = 0; i < car->seats; i++)
    json_builder_add_string_value(json, car->seat[i].name);
  json_builder_end_array(json);
  json_builder_add_int_value(json_builder_set_member_name(json, "positions_per_seat"), CW_PRACTICE_POSITIONS);
  json_builder_begin_array(json_builder_set_member_name(json, "speakers"));
  for (guint i = 0; i < car->speakers; i++)
    write_speaker(json, car, &car->speaker[i]);
  json_builder_end_array(json);
  write_microphone(json, car);
  json_builder_end_object(json);
  JsonNode *root = json_builder_get_root(json);
  char *text = json_to_string(root, TRUE);
  json_node_unref(root);
  g_object_unref(json);
  g_clear_pointer(&sheet, json_node_unref);
  return text;
}
