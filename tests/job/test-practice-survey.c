/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/practice/practice.h"
#include "job/practice/practice_radio.h"
#include "job/survey/survey.h"
#include "job/survey/survey_curves.h"
#include "job/survey/survey_mix.h"
#include "job/survey/tracks.h"
#include "sound/client/client.h"
#include "vehicle/json/document.h"

#include <glib/gstdio.h>
#include <math.h>

/* The survey in the practice bay, against what the bay's radios are (practice_radios.c); recorded live, take
 * by take; leads left out; and for real through the sound helper. */

#define MOST_DELAY_MS 0.010 /* the bars of the project's methods */
#define MOST_ALL_PASS_DELAY_MS 0.025
#define VOLTS CW_PRACTICE_VOLTS_PER_FULL_SCALE

static CwRecord *vehicle_of(const char *car)
{
  g_autoptr(GError) error = NULL;
  CwRecord *vehicle = cw_job_practice_vehicle(car, &error);
  g_assert_no_error(error);
  return vehicle;
}

static CwRecord *take_of(CwRecord *index, const char *id)
{
  CwRecord *take = cw_list_find_text_at(cw_track_index_get_takes(index), CW_TRACK_TAKE_FIELD_ID, id);
  g_assert_nonnull(take);
  return take;
}

static CwRecord *lead_of(CwRecord *survey, gint64 number)
{
  CwRecord *lead = cw_list_find_integer_at(cw_survey_get_leads(survey), CW_LEAD_FIELD_LEAD, number);
  g_assert_nonnull(lead);
  return lead;
}

static void check_lead(const CwPracticeRadio *radio, CwRecord *survey, guint number, gboolean seat_set,
                       gboolean ends)
{
  const CwPracticeLead *truth = &radio->lead[number - 1];
  CwRecord *lead = lead_of(survey, number);
  gboolean all_pass = FALSE;
  double earliest = INFINITY, own = truth->delay_ms + (seat_set ? truth->seat_delay_ms : 0);
  for (guint i = 0; i < radio->leads; i++)
    earliest = MIN(earliest, radio->lead[i].delay_ms + (seat_set ? radio->lead[i].seat_delay_ms : 0));
  for (guint s = 0; s < truth->sections; s++)
    all_pass |= truth->section[s].kind == CW_SECTION_ALL_PASS;
  g_assert_cmpint(cw_lead_get_side(lead), ==,
                  truth->right == 0  ? CW_SIDE_LEFT
                  : truth->left == 0 ? CW_SIDE_RIGHT
                                     : CW_SIDE_BOTH);
  if (ends)
    g_assert_cmpint(cw_lead_get_end(lead), ==,
                    truth->end < 0   ? CW_END_FRONT
                    : truth->end > 0 ? CW_END_REAR
                                     : CW_END_UNFADED);
  g_assert_cmpint(cw_lead_get_polarity(lead), ==,
                  truth->inverted ? CW_POLARITY_INVERTED : CW_POLARITY_NORMAL);
  g_assert_cmpint(cw_lead_get_all_pass(lead), ==, all_pass);
  g_assert_cmpfloat_with_epsilon(cw_lead_get_delay_ms(lead), own - earliest,
                                 all_pass ? MOST_ALL_PASS_DELAY_MS : MOST_DELAY_MS);
}

static gboolean has_finding(CwRecord *survey, const char *code)
{
  CwList *findings = cw_survey_get_findings(survey);
  for (guint i = 0; i < cw_list_get_length(findings); i++)
    if (g_str_equal(cw_finding_get_code(cw_list_get(findings, i)), code))
      return TRUE;
  return FALSE;
}

static CwProject *make_project(const char *car, char **folder)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = vehicle_of(car);
  *folder = g_dir_make_tmp("practice-survey-XXXXXX", &error);
  g_assert_no_error(error);
  g_autofree char *path = g_build_filename(*folder, "car.cabin", NULL);
  CwProject *project = cw_project_create(path, vehicle, &error);
  g_assert_no_error(error);
  return project;
}

static void remove_project(CwProject *project, char *folder)
{
  g_autofree char *path = g_build_filename(folder, "car.cabin", NULL);
  g_object_unref(project);
  g_unlink(path);
  g_rmdir(folder);
  g_free(folder);
}

static void test_radio(gconstpointer data)
{
  const char *car = data;
  const CwPracticeRadio *radio = cw_practice_radio_of(car);
  g_autoptr(GError) error = NULL;
  char *folder;
  CwProject *project = make_project(car, &folder);
  g_assert_true(cw_job_practice_survey(project, NULL, NULL, NULL, &error));
  g_assert_no_error(error);
  CwRecord *survey = cw_vehicle_get_survey(cw_project_get_vehicle(project)),
           *correction = cw_survey_get_correction(survey);
  g_assert_cmpuint(cw_list_get_length(cw_survey_get_leads(survey)), ==, radio->leads);
  for (guint n = 1; n <= radio->leads; n++)
    check_lead(radio, survey, n, FALSE, TRUE);
  g_assert_cmpfloat_with_epsilon(cw_survey_get_player_ppm(survey), radio->player_ppm, 0.05);
  g_assert_cmpint(cw_survey_get_loudness_found(survey), ==, radio->lift_most_db > 0);
  g_assert_cmpint(has_finding(survey, "radio-loudness"), ==, radio->lift_most_db > 0);
  g_assert_false(has_finding(survey, "radio-seat-setting"));
  g_assert_false(has_finding(survey, "take-refused"));
  g_assert_cmpfloat(cw_correction_get_flatness_db(correction), <, 1.5);
  remove_project(project, folder);
}

static CwRecording *record(CwRecord *vehicle, CwRecord *index, const char *id, const char *seat,
                           const int *leads, guint n_leads, guint64 seed)
{
  g_autoptr(GError) error = NULL;
  CwRecording *r =
      cw_job_practice_radio_record(vehicle, take_of(index, id), seat, leads, n_leads, seed, &error);
  g_assert_no_error(error);
  return r;
}

static void hear(CwSurveyWork *work, CwRecord *vehicle, CwRecord *index, CwStimulusKind kind,
                 const char *seat, const int *leads, guint n_leads, guint64 seed)
{
  g_autoptr(CwRecording) r = record(vehicle, index, cw_stimulus_name(kind), seat, leads, n_leads, seed);
  g_autofree char *wrong = cw_survey_work_hear(work, kind, leads, n_leads, 20, seat, r);
  g_assert_cmpstr(wrong, ==, NULL);
}

/* Lead by lead beside lead 1, in any order; a take with the volume changed is refused and done over;
 * concluded in between and again. */
static void test_live(void)
{
  const CwPracticeRadio *radio = cw_practice_radio_of("alder-tourer");
  g_autoptr(CwRecord) vehicle = vehicle_of("alder-tourer"), index = cw_job_track_index(CW_TRACKS_RATE_HZ);
  g_autoptr(CwSurveyWork) work = cw_survey_work_new_live(vehicle, VOLTS);
  g_autoptr(GError) error = NULL;
  g_assert_false(cw_survey_work_conclude(work, &error));
  g_assert_error(error, CW_JOB_ERROR, CW_JOB_ERROR_RECORDING);
  g_clear_error(&error);
  for (int n = 2; n <= 5; n++) {
    int pair[] = {1, n};
    hear(work, vehicle, index, CW_STIMULUS_LEADS, "all", pair, 2, (guint64)n);
  }
  g_assert_cmpuint(cw_survey_work_count(work, CW_STIMULUS_LEADS), ==, 4);
  g_assert_true(cw_survey_work_conclude(work, &error));
  for (guint n = 1; n <= 5; n++)
    check_lead(radio, cw_survey_work_get_survey(work), n, FALSE, FALSE);

  int again[] = {1, 3};
  g_autoptr(CwRecording) turned = record(vehicle, index, "leads", "all", again, 2, 77);
  for (guint c = 0; c < 2; c++)
    for (gsize i = turned->frames / 2; i < turned->frames; i++)
      turned->channel[c][i] *= 0.8;
  g_autofree char *wrong = cw_survey_work_hear(work, CW_STIMULUS_LEADS, again, 2, 20, "all", turned);
  g_assert_nonnull(wrong);
  g_assert_cmpuint(cw_survey_work_count(work, CW_STIMULUS_LEADS), ==, 3);
  hear(work, vehicle, index, CW_STIMULUS_LEADS, "all", again, 2, 78);
  g_assert_cmpuint(cw_survey_work_count(work, CW_STIMULUS_LEADS), ==, 4);
  g_assert_true(cw_survey_work_conclude(work, &error));
  for (guint n = 1; n <= 5; n++)
    check_lead(radio, cw_survey_work_get_survey(work), n, FALSE, FALSE);
  g_autofree char *channels = cw_survey_work_hear(work, CW_STIMULUS_LEADS, again, 1, 20, "all", turned);
  g_assert_nonnull(strstr(channels, "2 channels"));
}

/* The radio in its seat setting, and then in both: told in either case, and which of them delays. */
static void test_seat(void)
{
  const CwPracticeRadio *radio = cw_practice_radio_of("alder-tourer");
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) index = cw_job_track_index(CW_TRACKS_RATE_HZ);
  const int leads[] = {1, 2, 3, 4, 5};
  char *folder;
  CwProject *project = make_project("alder-tourer", &folder);
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_autoptr(CwSurveyWork) work = cw_survey_work_new_live(vehicle, VOLTS);
  hear(work, vehicle, index, CW_STIMULUS_LEADS, "driver", leads, 5, 1);
  g_assert_true(cw_survey_work_conclude(work, &error));
  cw_survey_work_store(work, project);
  CwRecord *survey = cw_vehicle_get_survey(vehicle);
  for (guint n = 1; n <= 5; n++)
    check_lead(radio, survey, n, TRUE, FALSE);
  g_assert_true(cw_survey_get_seat_active(survey));
  g_assert_cmpint(cw_survey_get_seat_side(survey), ==, CW_SIDE_RIGHT);
  g_assert_cmpfloat_with_epsilon(cw_survey_get_seat_delay_ms(survey), 0.94, MOST_DELAY_MS);
  g_assert_true(has_finding(survey, "radio-seat-setting"));

  hear(work, vehicle, index, CW_STIMULUS_LEADS, "all", leads, 5, 2);
  g_assert_true(cw_survey_work_conclude(work, &error));
  cw_survey_work_store(work, project);
  survey = cw_vehicle_get_survey(vehicle);
  g_assert_cmpstr(cw_survey_get_seat_setting(survey), ==, "all");
  g_assert_cmpstr(cw_survey_get_other_seat_setting(survey), ==, "driver");
  g_assert_false(cw_survey_get_seat_active(survey));
  g_assert_cmpfloat_with_epsilon(fabs(cw_survey_get_seat_delay_ms(survey)), 0.94, MOST_DELAY_MS);
  g_assert_true(has_finding(survey, "radio-seat-setting"));
  for (guint n = 1; n <= 5; n++)
    check_lead(radio, survey, n, FALSE, FALSE);
  remove_project(project, folder);
}

static gboolean uses_lead(CwRecord *vehicle, gint64 lead)
{
  return cw_list_find_integer_at(cw_tune_get_inputs(cw_vehicle_get_tune(vehicle)),
                                 CW_INPUT_CORRECTION_FIELD_LEAD, lead) != NULL;
}

/* Without a front lead the rear one of that side takes its place; taken in again, all is as it was. */
static void test_skip(void)
{
  g_autoptr(GError) error = NULL;
  char *folder;
  CwProject *project = make_project("alder-tourer", &folder);
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_assert_true(cw_job_practice_survey(project, NULL, NULL, NULL, &error));
  g_autofree char *before = cw_record_to_json(cw_vehicle_get_survey(vehicle), NULL);
  g_assert_true(uses_lead(vehicle, 1) && uses_lead(vehicle, 2));
  g_assert_true(cw_job_skip_lead(vehicle, 1, TRUE, NULL));
  g_assert_true(uses_lead(vehicle, 3));
  g_assert_false(uses_lead(vehicle, 1));
  g_assert_true(cw_job_skip_lead(vehicle, 1, FALSE, NULL));
  g_autofree char *after = cw_record_to_json(cw_vehicle_get_survey(vehicle), NULL);
  g_assert_cmpstr(before, ==, after);
  g_assert_false(cw_job_skip_lead(vehicle, 9, TRUE, NULL));
  for (int n = 1; n <= 5; n++)
    g_assert_true(cw_job_skip_lead(vehicle, n, TRUE, NULL));
  g_assert_null(cw_survey_get_correction(cw_vehicle_get_survey(vehicle)));
  g_assert_cmpuint(cw_list_get_length(cw_tune_get_inputs(cw_vehicle_get_tune(vehicle))), ==, 0);
  remove_project(project, folder);
}

/* What hands changed in inputs stays when another lead is left out; inputs that the mix then does without get
 * theirs back with it. */
static void test_skip_keeps_hands(void)
{
  g_autoptr(GError) error = NULL;
  char *folder;
  CwHandOutcome outcome;
  CwProject *project = make_project("rowan-van", &folder);
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_assert_true(cw_job_practice_survey(project, NULL, NULL, NULL, &error));
  CwRecord *one = cw_job_find_corrected_input(vehicle, 1), *two = cw_job_find_corrected_input(vehicle, 2);
  guint filters = cw_list_get_length(cw_input_correction_get_sections(one));
  CwRecord *section = cw_input_correction_add_to_sections(one);
  cw_tune_section_set_frequency_hz(section, 433);
  cw_tune_section_set_gain_db(section, -4.5);
  cw_input_correction_set_gain_db(two, -7.25);
  cw_input_correction_set_polarity(two, CW_POLARITY_NORMAL);
  g_autofree char *by_hand = cw_record_to_json(two, NULL);
  g_assert_true(cw_job_skip_lead(vehicle, 1, TRUE, &outcome));
  g_assert_true(outcome.kept == 1 && outcome.set_aside == 1 && !outcome.restored);
  two = cw_job_find_corrected_input(vehicle, 2);
  g_assert_cmpfloat(cw_input_correction_get_gain_db(two), ==, -7.25);
  g_assert_cmpint(cw_input_correction_get_polarity(two), ==, CW_POLARITY_NORMAL);
  g_assert_true(cw_job_skip_lead(vehicle, 1, FALSE, &outcome));
  g_assert_true(outcome.kept == 1 && !outcome.set_aside && outcome.restored == 1);
  CwList *sections = cw_input_correction_get_sections(cw_job_find_corrected_input(vehicle, 1));
  g_assert_cmpuint(cw_list_get_length(sections), ==, filters + 1);
  g_assert_cmpfloat(cw_tune_section_get_frequency_hz(cw_list_get(sections, filters)), ==, 433);
  g_autofree char *after = cw_record_to_json(cw_job_find_corrected_input(vehicle, 2), NULL);
  g_assert_cmpstr(after, ==, by_hand);
  g_assert_true(cw_job_redo_lead(vehicle, 1));
  g_assert_true(cw_job_skip_lead(vehicle, 1, TRUE, &outcome));
  g_assert_true(outcome.kept == 1 && !outcome.set_aside);
  remove_project(project, folder);
}

/* A new survey replaces what hands changed in the inputs: it says so, a restore point keeps them, and where
 * hands changed nothing neither is there. */
static void test_survey_over_hands(void)
{
  g_autoptr(GError) error = NULL;
  char *folder;
  CwProject *project = make_project("alder-tourer", &folder);
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_autoptr(CwRecord) index = cw_job_track_index(CW_TRACKS_RATE_HZ);
  g_autoptr(CwSurveyWork) work = cw_survey_work_new_live(vehicle, VOLTS);
  const int leads[] = {1, 2, 3, 4, 5};
  for (guint round = 0; round < 2; round++) {
    hear(work, vehicle, index, CW_STIMULUS_LEADS, "all", leads, 5, round);
    g_assert_true(cw_survey_work_conclude(work, &error));
    cw_survey_work_store(work, project);
    g_autofree char *told = cw_survey_work_tell_replaced(work);
    g_autoptr(GPtrArray) points = cw_project_list_restore_points(project, &error);
    g_assert_cmpuint(points->len, ==, round);
    g_assert_true((told != NULL) == (round == 1));
    if (round == 0) {
      cw_input_correction_set_gain_db(cw_job_find_corrected_input(vehicle, 1), -7.25);
      continue;
    }
    CwRestorePoint *point = g_ptr_array_index(points, 0);
    g_assert_nonnull(strstr(told, point->name));
    g_assert_cmpfloat(cw_input_correction_get_gain_db(cw_job_find_corrected_input(vehicle, 1)), !=, -7.25);
    g_assert_true(cw_project_go_to_restore_point(project, point->name, &error));
    vehicle = cw_project_get_vehicle(project);
    g_assert_cmpfloat(cw_input_correction_get_gain_db(cw_job_find_corrected_input(vehicle, 1)), ==, -7.25);
  }
  g_assert_no_error(error);
  remove_project(project, folder);
}

/* An input changed by hand is told from one that was worked out, its mix is no longer as flat, and worked out
 * again it is as it was, while what hands did to another stays. */
static void test_redo(void)
{
  g_autoptr(GError) error = NULL;
  char *folder;
  CwProject *project = make_project("alder-tourer", &folder);
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_assert_true(cw_job_practice_survey(project, NULL, NULL, NULL, &error));
  CwRecord *one = cw_job_find_corrected_input(vehicle, 1), *two = cw_job_find_corrected_input(vehicle, 2);
  double flat_db = cw_job_corrected_flatness_db(vehicle);
  g_autofree char *before = cw_record_to_json(one, NULL);
  g_assert_cmpfloat_with_epsilon(
      flat_db, cw_correction_get_flatness_db(cw_survey_get_correction(cw_vehicle_get_survey(vehicle))), 0.1);
  g_assert_false(cw_job_input_is_by_hand(vehicle, one) || cw_job_input_is_by_hand(vehicle, two));
  CwRecord *section = cw_input_correction_add_to_sections(one);
  cw_tune_section_set_gain_db(section, 6);
  cw_input_correction_set_gain_db(two, -20);
  g_assert_true(cw_job_input_is_by_hand(vehicle, one) && cw_job_input_is_by_hand(vehicle, two));
  g_assert_cmpfloat(cw_job_corrected_flatness_db(vehicle), >, flat_db + 3);
  g_assert_true(cw_job_redo_lead(vehicle, 1));
  g_autofree char *after = cw_record_to_json(cw_job_find_corrected_input(vehicle, 1), NULL);
  g_assert_cmpstr(before, ==, after);
  g_assert_cmpfloat(cw_input_correction_get_gain_db(cw_job_find_corrected_input(vehicle, 2)), ==, -20);
  g_assert_false(cw_job_redo_lead(vehicle, 9));
  remove_project(project, folder);
}

/* For real: the helper plays the track's file on the bay's radio and records two leads. */
static void test_helper(void)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = vehicle_of("rowan-van"), index = cw_job_track_index(CW_TRACKS_RATE_HZ);
  g_autofree char *folder = g_dir_make_tmp("practice-tracks-XXXXXX", &error);
  const int leads[] = {2, 1};
  g_assert_true(cw_job_write_tracks(folder, CW_TRACKS_RATE_HZ, CW_REPLACE_OWN, &error));
  CwRecord *take = take_of(index, "front");
  g_autofree char *path = g_build_filename(folder, cw_track_take_get_track(take), NULL);
  g_autofree char *setup = cw_job_practice_radio_setup(vehicle, take, path, "all", leads, 2, &error);
  g_assert_no_error(error);
  CwSoundClient *client = cw_sound_client_new(SOUND_HELPER);
  CwStimulus s = cw_stimulus_design(CW_STIMULUS_FRONT);
  CwSoundJob job;
  cw_sound_client_set_practice(client, setup);
  cw_sound_job_init(&job);
  job.inputs = 2;
  job.record_frames = (gsize)((s.seconds + 2) * job.rate_hz);
  g_autoptr(CwSoundTake) sound = cw_sound_play_and_record(client, &job, &error);
  g_assert_no_error(error);
  g_autoptr(CwRecording) r =
      cw_recording_from_floats(sound->rate_hz, sound->channels, sound->frames, sound->sample);
  g_autoptr(CwSurveyWork) work = cw_survey_work_new_live(vehicle, VOLTS);
  g_autofree char *wrong = cw_survey_work_hear(work, CW_STIMULUS_FRONT, leads, 2,
                                               cw_job_practice_radio_step(vehicle, take), "all", r);
  g_assert_cmpstr(wrong, ==, NULL);
  g_autofree char *other = cw_survey_work_hear(work, CW_STIMULUS_REAR, leads, 2, 22, "all", r);
  g_assert_nonnull(strstr(other, "\"front\""));

  const int none[] = {3};
  g_assert_null(cw_job_practice_radio_setup(vehicle, take, path, "all", none, 1, &error));
  g_assert_error(error, CW_JOB_ERROR, CW_JOB_ERROR_VEHICLE);
  g_clear_error(&error);
  g_autofree char *gone =
      cw_job_practice_radio_setup(vehicle, take, "/nowhere/1-leads.wav", "all", leads, 2, NULL);
  cw_sound_client_set_practice(client, gone);
  g_assert_null(cw_sound_play_and_record(client, &job, &error));
  g_assert_nonnull(strstr(error->message, "/nowhere/1-leads.wav"));
  g_object_unref(client);
  CwList *tracks = cw_track_index_get_tracks(index);
  for (guint i = 0; i < cw_list_get_length(tracks); i++) {
    g_autofree char *file = g_build_filename(folder, cw_track_get_file(cw_list_get(tracks, i)), NULL);
    g_unlink(file);
  }
  for (guint i = 0; i < 3; i++) {
    static const char *const lists[] = {"tracks.json", "tracks.txt", "tracks.pdf"};
    g_autofree char *file = g_build_filename(folder, lists[i], NULL);
    g_unlink(file);
  }
  g_assert_cmpint(g_rmdir(folder), ==, 0);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_data_func("/job/practice-survey/alder-tourer", "alder-tourer", test_radio);
  g_test_add_data_func("/job/practice-survey/rowan-van", "rowan-van", test_radio);
  g_test_add_func("/job/practice-survey/live", test_live);
  g_test_add_func("/job/practice-survey/seat", test_seat);
  g_test_add_func("/job/practice-survey/skip", test_skip);
  g_test_add_func("/job/practice-survey/skip-keeps-hands", test_skip_keeps_hands);
  g_test_add_func("/job/practice-survey/over-hands", test_survey_over_hands);
  g_test_add_func("/job/practice-survey/redo", test_redo);
  g_test_add_func("/job/practice-survey/helper", test_helper);
  return g_test_run();
}
