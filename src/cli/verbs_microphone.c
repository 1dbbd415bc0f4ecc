/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/verb.h"
#include "job/findings/review.h"
#include "job/sheet/calibration.h"
#include "job/sheet/microphone.h"
#include "job/sheet/sound_level.h"
#include "vehicle/json/document.h"
#include "vehicle/project/project.h"

static char *calibration_path, *incidence_word, *calibrator_path, *loudness_path;
static double calibrator_db = 94;

static const GOptionEntry microphone_entries[] = {
    {"calibration", 0, 0, G_OPTION_ARG_FILENAME, &calibration_path,
     "The microphone's curve: Hz and dB, a line a frequency", "FILE.txt"},
    {"incidence", 0, 0, G_OPTION_ARG_STRING, &incidence_word,
     "Where the microphone points for that curve: 0 (at the speaker) or 90 (up)", "DEGREES"},
    {"calibrator", 0, 0, G_OPTION_ARG_FILENAME, &calibrator_path,
     "A recording of a sound calibrator: sets the level at full scale", "REC.wav"},
    {"level", 0, 0, G_OPTION_ARG_DOUBLE, &calibrator_db, "The calibrator's level, 94 unless told", "DB"},
    {"loudness", 0, 0, G_OPTION_ARG_FILENAME, &loudness_path,
     "A recording to say the sound level of: the noise floor if nothing played", "REC.wav"},
    {0},
};

static gboolean load_curve(CwRecord *vehicle, GError **error)
{
  int incidence = cw_microphone_get_incidence(cw_vehicle_make_microphone(vehicle));

  if (incidence_word && !g_str_equal(incidence_word, "0") && !g_str_equal(incidence_word, "90")) {
    g_set_error(error, CW_USAGE_ERROR, 0, "--incidence %s: expected 0 or 90", incidence_word);
    return FALSE;
  }
  if (incidence_word)
    incidence = g_str_equal(incidence_word, "90") ? CW_INCIDENCE_90 : CW_INCIDENCE_0;
  if (!calibration_path) {
    cw_microphone_set_incidence(cw_vehicle_make_microphone(vehicle), incidence);
    return TRUE;
  }
  g_autoptr(CwNumbers) curve = cw_calibration_read(calibration_path, error);
  if (!curve)
    return FALSE;
  cw_job_set_calibration(vehicle, incidence, curve);
  return TRUE;
}

static gboolean load_calibrator(CwRecord *vehicle, GError **error)
{
  g_autoptr(CwRecording) recording = calibrator_path ? cw_recording_read(calibrator_path, error) : NULL;

  if (!calibrator_path)
    return TRUE;
  if (recording && cw_job_set_sensitivity(vehicle, recording, calibrator_db, NULL, error))
    return TRUE;
  if (recording)
    g_prefix_error(error, "%s: ", calibrator_path);
  return FALSE;
}

static gboolean say_loudness(CwRecord *vehicle, gboolean json, GError **error)
{
  g_autoptr(CwRecording) recording = cw_recording_read(loudness_path, error);

  if (!recording)
    return FALSE;
  CwSoundLevel level = cw_job_sound_level(vehicle, recording);
  g_autofree char *text = json ? cw_sound_level_to_json(&level)
                               : g_strdup_printf("%.1f dB(A), %.1f dB(C), %.1f dB unweighted%s; a day may "
                                                 "hold %.1f h of it by NIOSH, %.1f h by OSHA",
                                                 level.a_db, level.c_db, level.flat_db,
                                                 level.calibrated ? "" : " (microphone's level not known)",
                                                 level.niosh_hours, level.osha_hours);
  return cw_print(text, error);
}

static gboolean run_microphone(char **arguments, gboolean json, GError **error)
{
  g_autoptr(CwProject) project = cw_project_open(arguments[0], error);

  if (!project)
    return FALSE;
  CwRecord *vehicle = cw_project_get_vehicle(project);
  if (calibration_path || incidence_word || calibrator_path) {
    if (!load_curve(vehicle, error) || !load_calibrator(vehicle, error))
      return FALSE;
    cw_job_review(vehicle);
    if (!cw_project_commit(project, "Calibrate the microphone", error))
      return FALSE;
  }
  if (loudness_path)
    return say_loudness(vehicle, json, error);
  g_autofree char *text = json ? cw_record_to_json(cw_vehicle_make_microphone(vehicle), NULL) : NULL;
  return text ? cw_print(text, error) : TRUE;
}

const CwVerb cw_verbs_microphone[] = {
    {"microphone", "CAR", "the microphone's calibration and level; the sound level of a recording", 1, 1,
     microphone_entries, run_microphone},
    {0},
};
