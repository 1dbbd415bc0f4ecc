/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/tuning/loudness_limits.h"
#include "electrics/power.h"
#include "job/sheet/electrics.h"
#include "job/sheet/microphone.h"
#include "job/takes/clean_band.h"
#include "job/takes/feeds.h"
#include "job/tuning/predict.h"
#include "job/tuning/tune_record.h"
#include "signal/log_grid.h"
#include "vehicle/json/json_write.h"
#include <glib/gi18n-lib.h>
#include <math.h>

#define BASS_HZ 100.0
#define BASS_PERCENT 10.0 /* common practice, no source */
#define PERCENT 3.0
#define HEARD_PERCENT 0.5 /* less is as likely the bench's own */

double cw_job_read_full_scale_v(CwRecord *vehicle, const char *amplifier, gint64 channel)
{
  CwRecord *levels = cw_vehicle_get_levels(vehicle);
  CwList *settings = levels ? cw_levels_get_settings(levels) : NULL;

  for (guint i = 0; settings && i < cw_list_get_length(settings); i++) {
    CwRecord *setting = cw_list_get(settings, i);
    if (cw_level_setting_get_channel(setting) == channel &&
        g_str_equal(cw_level_setting_get_amplifier(setting), amplifier))
      return cw_level_setting_get_read_v(setting) * pow(10, cw_levels_get_allowance_db(levels) / 20);
  }
  return NAN;
}

gboolean cw_job_channel_drives(CwRecord *vehicle, const char *amplifier, gint64 channel, gint64 output)
{
  CwRecord *record =
               cw_list_find_text_at(cw_vehicle_get_amplifiers(vehicle), CW_AMPLIFIER_FIELD_NAME, amplifier),
           *its = record ? cw_list_find_integer_at(cw_amplifier_get_channels(record),
                                                   CW_AMPLIFIER_CHANNEL_FIELD_CHANNEL, channel)
                         : NULL;
  return its && cw_numbers_contain(cw_amplifier_channel_get_outputs(its), (double)output);
}

/* Full scale is what the gains were set by: the amplifier's rated voltage, or what the multimeter read. */
static void read_amplifier(CwRecord *vehicle, const CwElectrics *electrics, gint64 output, CwOutputPath *path)
{
  for (guint a = 0; a < electrics->n_amplifiers; a++)
    for (guint i = 0; i < electrics->amplifiers[a].n_loads; i++) {
      const CwChannelLoad *load = &electrics->amplifiers[a].loads[i];
      double part = load->in_series && load->n_speakers > 1 ? 1.0 / load->n_speakers : 1, read;
      if (!cw_job_channel_drives(vehicle, electrics->amplifiers[a].name, load->channels[0], output))
        continue;
      read = cw_job_read_full_scale_v(vehicle, electrics->amplifiers[a].name, load->channels[0]);
      path->amplifier_volts = part * load->volts;
      path->volts_at_full_scale = part * (read > 0 ? read : load->volts);
    }
}

static void read_speaker(CwRecord *speaker, CwOutputPath *path)
{
  double ohm = cw_speaker_get_nominal_ohm(speaker);

  path->speaker_volts = cw_power_volts(cw_speaker_get_rated_w(speaker), ohm);
  path->cone = (CwCone){.resonance_hz = cw_speaker_get_fs_hz(speaker),
                        .total_q = cw_speaker_get_total_q(speaker),
                        .compliance_l = cw_speaker_get_compliance_l(speaker),
                        .cone_area_cm2 = cw_speaker_get_cone_cm2(speaker),
                        .nominal_ohm = ohm,
                        .travel_peak_mm = cw_speaker_get_travel_mm(speaker)};
}

/* By the harmonics of the takes, which were played at their feed's level. */
static void read_distortion(CwRecord *vehicle, gint64 output, const CwHeadroom *bands, CwOutputPath *path)
{
  CwSweepFeed feed;
  double rate_hz;
  gboolean known = cw_job_read_feed(vehicle, output, TRUE, &feed, &rate_hz, NULL);

  for (guint k = 0; k < CW_HEADROOM_BANDS; k++) {
    double hz = bands->band[k].hz, percent = known ? cw_job_distortion_percent(vehicle, output, hz) : NAN;
    path->clean_db[k] = percent > HEARD_PERCENT
                            ? 20 * log10(feed.sweep.level) +
                                  cw_headroom_clean_db(NAN, percent, hz < BASS_HZ ? BASS_PERCENT : PERCENT)
                            : NAN;
  }
}

static double mix_of(CwRecord *vehicle, gint64 output)
{
  CwRecord *tune = cw_vehicle_get_tune(vehicle),
           *its = cw_list_find_integer_at(cw_tune_get_outputs(tune), CW_TUNE_OUTPUT_FIELD_OUTPUT, output),
           *mix = its ? cw_tune_output_get_mix(its) : NULL;
  return mix ? cw_mix_get_left(mix) + cw_mix_get_right(mix) : 1;
}

static CwOutputPath read_path(CwRecord *vehicle, const CwElectrics *electrics, CwRecord *speaker)
{
  gint64 output = cw_speaker_get_output(speaker);
  CwOutputPath path = {.mix = mix_of(vehicle, output), .amplifier_volts = NAN, .volts_at_full_scale = NAN};
  CwHeadroom bands;

  cw_headroom_bands(&bands);
  read_amplifier(vehicle, electrics, output, &path);
  read_speaker(speaker, &path);
  read_distortion(vehicle, output, &bands, &path);
  return path;
}

static CwOutputPath *read_paths(CwRecord *vehicle)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  g_autoptr(CwElectrics) electrics = cw_electrics_new(vehicle);
  CwOutputPath *path = g_new0(CwOutputPath, cw_list_get_length(speakers) + 1);

  for (guint o = 0; o < cw_list_get_length(speakers); o++)
    path[o] = read_path(vehicle, electrics, cw_list_get(speakers, o));
  return path;
}

CwMusicRoom cw_job_music_room(CwRecord *vehicle, CwRecord *speaker)
{
  enum { POINTS = 480 };
  CwRecord *tune = cw_vehicle_get_tune(vehicle),
           *output = tune ? cw_list_find_integer_at(cw_tune_get_outputs(tune), CW_TUNE_OUTPUT_FIELD_OUTPUT,
                                                    cw_speaker_get_output(speaker))
                          : NULL;
  double rate_hz = cw_processor_get_sample_rate_hz(cw_vehicle_get_processor(vehicle)), hz[POINTS], db[POINTS];
  CwMusicRoom none = {INFINITY, NAN, CW_LIMIT_RADIO};
  CwOutputSetting setting;
  CwComplex response[POINTS];

  if (!output || cw_tune_output_get_muted(output) ||
      !cw_job_read_setting(tune, output, rate_hz, &setting, NULL))
    return none;
  cw_log_grid_fill(20, 48, POINTS, hz);
  cw_setting_response(&setting, rate_hz, hz, POINTS, response);
  for (guint i = 0; i < POINTS; i++)
    db[i] = 20 * log10(cabs(response[i]) + 1e-30);
  g_autoptr(CwElectrics) electrics = cw_electrics_new(vehicle);
  CwOutputPath path = read_path(vehicle, electrics, speaker);
  return cw_headroom_for_music(hz, db, POINTS, &path);
}

gboolean cw_job_headroom(CwProject *project, const char *seat, CwHeadroom *headroom, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project), *tune = cw_vehicle_get_tune(vehicle);

  if (!tune || cw_list_get_length(cw_tune_get_outputs(tune)) == 0)
    return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, _("the vehicle has no tune yet"));
  CwPrediction *prediction = cw_job_predict(project, seat, error);
  if (!prediction)
    return FALSE;
  cw_headroom_bands(headroom);
  g_autofree CwOutputPath *path = read_paths(vehicle);
  cw_headroom_compute(prediction, path, cw_job_spl_at_full_scale(vehicle, NULL), headroom);
  cw_prediction_free(prediction);
  return TRUE;
}

char *cw_job_headroom_to_json(CwRecord *vehicle, const CwHeadroom *headroom)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  GString *json = g_string_new("{\"bands\":[");

  for (guint k = 0; k < CW_HEADROOM_BANDS; k++) {
    const CwHeadroomBand *band = &headroom->band[k];
    gboolean of_output = band->by != CW_LIMIT_RADIO && band->output < cw_list_get_length(speakers);
    g_string_append(json, k ? ",{" : "{");
    cw_append_json_member(json, "hz", band->hz);
    cw_append_json_member(json, "spl_db", rint(100 * band->spl_db) / 100);
    cw_append_json_member(json, "headroom_db", rint(100 * band->headroom_db) / 100);
    cw_append_json_key(json, "limit");
    g_string_append_c(json, '{');
    cw_append_json_member(
        json, "output",
        of_output ? (double)cw_speaker_get_output(cw_list_get(speakers, (guint)band->output)) : 0);
    cw_append_json_text_member(json, "by", cw_limit_name(band->by));
    g_string_append(json, "}}");
  }
  g_string_append(json, "]");
  cw_append_json_key(json, "spl_db");
  cw_append_json_number(json, rint(100 * headroom->spl_db) / 100);
  g_string_append_c(json, '}');
  return g_string_free(json, FALSE);
}

const char *cw_job_say_limit(CwLimitKind kind)
{
  static const char *const words[CW_LIMITS] = {[CW_LIMIT_RADIO] = N_("the source is at its loudest"),
                                               [CW_LIMIT_PROCESSOR] = N_("processor at full scale"),
                                               [CW_LIMIT_AMPLIFIER] = N_("amplifier at its rated power"),
                                               [CW_LIMIT_POWER] = N_("speaker's power handling"),
                                               [CW_LIMIT_TRAVEL] = N_("cone travel"),
                                               [CW_LIMIT_DISTORTION] = N_("distortion as measured")};
  return _(words[kind]);
}

char *cw_job_say_headroom(CwRecord *vehicle, const CwHeadroom *headroom)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  GString *text = g_string_new(NULL);

  for (guint k = 0; k < CW_HEADROOM_BANDS; k++) {
    const CwHeadroomBand *band = &headroom->band[k];
    g_string_append_printf(text, _("%7.4g Hz  %6.1f dB SPL  %s"), band->hz, band->spl_db,
                           cw_job_say_limit(band->by));
    if (band->by != CW_LIMIT_RADIO && band->output < cw_list_get_length(speakers))
      g_string_append_printf(text, " (%s)", cw_speaker_get_name(cw_list_get(speakers, (guint)band->output)));
    g_string_append_c(text, '\n');
  }
  g_string_append_printf(text, _("All bands together: %.1f dB SPL at 1 kHz when the first gives out"),
                         headroom->spl_db);
  return g_string_free(text, FALSE);
}
