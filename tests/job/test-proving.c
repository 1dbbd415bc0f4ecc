/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The proving run in the practice bay, whose defects are the truth: what is wrong is found, on the right
 * output, and nothing else is. */
#include "job/map/map_check.h"
#include "job/practice/practice.h"
#include "vehicle/project/project.h"
#include <glib/gstdio.h>
#include <math.h>

typedef struct {
  CwProject *project;
  char *folder;
} Bench;

static void bench_open(Bench *bench, const char *car)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = cw_job_practice_vehicle(car, &error);
  bench->folder = g_dir_make_tmp("proving-XXXXXX", &error);
  g_autofree char *path = g_build_filename(bench->folder, "car.cabin", NULL);
  bench->project = cw_project_create(path, vehicle, &error);
  g_assert_no_error(error);
}

static void bench_close(Bench *bench)
{
  g_autofree char *path = g_strdup(cw_project_get_path(bench->project));
  g_object_unref(bench->project);
  g_unlink(path);
  g_rmdir(bench->folder);
  g_free(bench->folder);
}

/* Runs through all outputs of a car with the defects named (a JSON list). */
static void run(Bench *bench, const char *car, const char *defects)
{
  g_autofree char *text = g_strdup_printf("{\"car\":\"%s\",\"defects\":%s}", car, defects);
  g_autoptr(GError) error = NULL;
  CwPracticeSetup *setup = cw_practice_setup_parse(text, &error);
  g_assert_no_error(error);
  g_autoptr(CwPracticeBay) bay = cw_practice_bay_new(setup);
  g_assert_true(cw_job_practice_map(bench->project, bay, NULL, NULL, NULL, &error));
  g_assert_no_error(error);
}

static CwRecord *proof_of(Bench *bench, gint64 output)
{
  return cw_list_find_integer_at(cw_vehicle_get_map_proofs(cw_project_get_vehicle(bench->project)),
                                 CW_MAP_PROOF_FIELD_OUTPUT, output);
}

/* "code:output" of all findings of the map, in order, parted by spaces. */
static char *findings_of(Bench *bench)
{
  CwList *findings = cw_vehicle_get_findings(cw_project_get_vehicle(bench->project));
  GString *text = g_string_new(NULL);

  for (guint i = 0; i < cw_list_get_length(findings); i++) {
    CwRecord *finding = cw_list_get(findings, i), *about = cw_finding_get_about(finding);
    if (cw_finding_get_stage(finding) != CW_STAGE_MAP)
      continue;
    g_string_append_printf(text, "%s%s:%d", text->len ? " " : "", cw_finding_get_code(finding),
                           about ? (int)cw_about_get_output(about) : 0);
    g_test_message("%s %s", cw_finding_get_text(finding), cw_finding_get_evidence(finding));
  }
  return g_string_free(text, FALSE);
}

static void say_proofs(Bench *bench)
{
  CwList *proofs = cw_vehicle_get_map_proofs(cw_project_get_vehicle(bench->project));

  for (guint i = 0; i < cw_list_get_length(proofs); i++) {
    CwRecord *p = cw_list_get(proofs, i);
    g_test_message(
        "output %d: proven %d, sounded %d, like %d, same as %d (%.2f), %.2f/%.2f ms, %.0f to %.0f "
        "Hz, %.1f dB, polarity %d (%.2f), %.2f %%",
        (int)cw_map_proof_get_output(p), cw_map_proof_get_proven(p), cw_map_proof_get_sounded(p),
        (int)cw_map_proof_get_sounds_like(p), (int)cw_map_proof_get_same_as(p), cw_map_proof_get_likeness(p),
        cw_map_proof_get_arrival_left_ms(p), cw_map_proof_get_arrival_right_ms(p), cw_map_proof_get_low_hz(p),
        cw_map_proof_get_high_hz(p), cw_map_proof_get_level_db_spl(p), cw_map_proof_get_polarity(p),
        cw_map_proof_get_polarity_confidence(p), cw_map_proof_get_distortion_percent(p));
  }
}

typedef struct {
  const char *car, *defects, *expected;
} Case;

static const Case cases[] = {
    {"alder-tourer", "[]", ""},
    {"alder-tourer", "[\"front-left-low-reversed\"]", "speaker-inverted:5"},
    {"alder-tourer", "[\"rear-left-silent\"]", "speaker-silent:7"},
    {"alder-tourer", "[\"front-highs-swapped\"]", "speaker-misplaced:1 speaker-misplaced:2"},
    {"alder-tourer", "[\"front-and-rear-left-swapped\"]", "speaker-misplaced:5 speaker-misplaced:7"},
    {"alder-tourer", "[\"rears-joined\"]", "speaker-misplaced:7 speaker-misplaced:8"},
    {"alder-tourer", "[\"rears-joined\",\"rear-left-silent\"]", "speaker-misplaced:7 speaker-misplaced:8"},
    {"rowan-van", "[]", ""},
    {"rowan-van", "[\"front-right-low-reversed\"]", "speaker-inverted:4"},
};

static void test_case(gconstpointer data)
{
  const Case *c = data;
  Bench bench;

  bench_open(&bench, c->car);
  run(&bench, c->car, c->defects);
  g_autofree char *found = findings_of(&bench);
  say_proofs(&bench);
  g_assert_cmpstr(found, ==, c->expected);
  CwList *speakers = cw_vehicle_get_speakers(cw_project_get_vehicle(bench.project));
  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    gint64 output = cw_speaker_get_output(cw_list_get(speakers, i));
    g_autofree char *silent = g_strdup_printf("speaker-silent:%d", (int)output),
                    *misplaced = g_strdup_printf("speaker-misplaced:%d", (int)output);
    g_assert_cmpint(cw_map_proof_get_proven(proof_of(&bench, output)), ==,
                    !strstr(found, silent) && !strstr(found, misplaced));
  }
  bench_close(&bench);
}

/* What was wrong and is mended is forgotten; what was heard is in the file. */
static void test_again(void)
{
  Bench bench;

  bench_open(&bench, "alder-tourer");
  run(&bench, "alder-tourer", "[\"rears-joined\"]");
  g_assert_false(cw_map_proof_get_proven(proof_of(&bench, 7)));
  run(&bench, "alder-tourer", "[]");
  g_autofree char *found = findings_of(&bench);
  g_assert_cmpstr(found, ==, "");
  g_assert_true(cw_map_proof_get_proven(proof_of(&bench, 7)));
  g_autofree char *path = g_strdup(cw_project_get_path(bench.project));
  g_autoptr(GError) error = NULL;
  g_object_unref(bench.project);
  bench.project = cw_project_open(path, &error);
  g_assert_no_error(error);
  g_assert_cmpint(cw_map_proof_get_heard_side(proof_of(&bench, 7)), ==, CW_SIDE_LEFT);
  g_assert_cmpint(cw_map_proof_get_heard_side(proof_of(&bench, 8)), ==, CW_SIDE_RIGHT);
  g_assert_true(cw_map_proof_get_level_db_spl(proof_of(&bench, 8)) > 60);
  bench_close(&bench);
}

/* A dead microphone, a clipped or cut recording is refused, and nothing is said of the speakers; with all of
 * them silent, of none alone. */
static void test_refused(void)
{
  Bench bench;
  g_autoptr(GError) error = NULL, clipped = NULL, cut = NULL, none = NULL;

  bench_open(&bench, "rowan-van");
  CwRecord *vehicle = cw_project_get_vehicle(bench.project);
  g_assert_false(cw_job_prove_judge(bench.project, "driver", &none));
  g_assert_error(none, CW_JOB_ERROR, CW_JOB_ERROR_VEHICLE);
  g_autoptr(CwPracticeBay) bay = cw_job_practice_bay(vehicle, NULL);
  g_autoptr(CwRecording) recording = cw_job_practice_hear(bay, vehicle, 1, CW_PROVING_LEFT, 1, NULL);
  gsize frames = recording->frames;
  recording->frames = 20000;
  g_assert_null(cw_job_prove_hear(vehicle, 1, CW_PROVING_LEFT, recording, &cut));
  g_assert_error(cut, CW_JOB_ERROR, CW_JOB_ERROR_RECORDING);
  recording->frames = frames;
  for (gsize i = 0; i < frames; i++)
    recording->channel[0][i] = CLAMP(1e4 * recording->channel[0][i], -1, 1);
  g_assert_null(cw_job_prove_hear(vehicle, 1, CW_PROVING_LEFT, recording, &clipped));
  g_assert_error(clipped, CW_JOB_ERROR, CW_JOB_ERROR_RECORDING);
  for (gsize i = 0; i < frames; i++)
    recording->channel[0][i] = 0;
  g_assert_null(cw_job_prove_hear(vehicle, 1, CW_PROVING_LEFT, recording, &error));
  g_assert_error(error, CW_JOB_ERROR, CW_JOB_ERROR_RECORDING);
  g_autofree char *found = findings_of(&bench);
  g_assert_cmpstr(found, ==, "");
  for (gint64 output = 1; output <= 5; output++) {
    CwProvingOutcome silent = {
        .output = output, .place = CW_PROVING_LEFT, .heard = {.sounded = false, .arrival_seconds = NAN}};
    cw_job_prove_store(bench.project, &silent);
  }
  g_assert_true(cw_job_prove_judge(bench.project, "driver", NULL));
  g_autofree char *all = findings_of(&bench);
  g_assert_cmpstr(all, ==, "speaker-silent:0");
  bench_close(&bench);
}

static CwSamples *get_blob(Bench *bench, gint64 output, guint place)
{
  g_autofree char *name = cw_job_proving_blob(output, place ? CW_PROVING_RIGHT : CW_PROVING_LEFT);
  CwSamples *samples = cw_project_get_samples(bench->project, name, NULL);
  g_assert_nonnull(samples);
  return samples;
}

static void put_blob(Bench *bench, gint64 output, guint place, const CwSamples *samples)
{
  g_autofree char *name = cw_job_proving_blob(output, place ? CW_PROVING_RIGHT : CW_PROVING_LEFT);
  cw_project_put_samples(bench->project, name, samples);
}

/* Half the voltage on one output is told, a decibel and a half is not. */
static void test_half(void)
{
  static const double gains[] = {0.5, 0.85};

  for (guint g = 0; g < G_N_ELEMENTS(gains); g++) {
    Bench bench;
    bench_open(&bench, "alder-tourer");
    run(&bench, "alder-tourer", "[]");
    for (guint place = 0; place < 2; place++) {
      g_autoptr(CwSamples) samples = get_blob(&bench, 4, place);
      for (guint i = 0; i < samples->n_frames; i++)
        samples->values[i] *= (float)gains[g];
      put_blob(&bench, 4, place, samples);
    }
    g_assert_true(cw_job_prove_judge(bench.project, "driver", NULL));
    g_autofree char *found = findings_of(&bench);
    say_proofs(&bench);
    g_assert_cmpstr(found, ==, gains[g] < 0.6 ? "speaker-quiet:4" : "");
    if (gains[g] < 0.6) {
      double quieter_db = cw_map_proof_get_quieter_db(proof_of(&bench, 4));
      g_test_message("quieter by %.2f dB", quieter_db);
      g_assert_cmpfloat(fabs(quieter_db - 6), <, 2);
      g_assert_cmpint(cw_map_proof_get_quieter_than(proof_of(&bench, 4)), ==, 3);
      g_assert_true(cw_map_proof_get_proven(proof_of(&bench, 4)));
    }
    bench_close(&bench);
  }
}

/* A door's output that drives the subwoofer, whose own output does too: below where echoes tell, the sound
 * itself does. */
static void test_bass_twice(void)
{
  Bench bench;
  static const CwFieldId kept[] = {CW_MAP_PROOF_FIELD_ARRIVAL_LEFT_MS, CW_MAP_PROOF_FIELD_ARRIVAL_RIGHT_MS,
                                   CW_MAP_PROOF_FIELD_START_LEFT_MS, CW_MAP_PROOF_FIELD_START_RIGHT_MS};

  bench_open(&bench, "alder-tourer");
  run(&bench, "alder-tourer", "[]");
  for (guint place = 0; place < 2; place++) {
    g_autoptr(CwSamples) samples = get_blob(&bench, 9, place);
    put_blob(&bench, 5, place, samples);
  }
  for (guint i = 0; i < G_N_ELEMENTS(kept); i++)
    cw_record_set_number_at(proof_of(&bench, 5), kept[i],
                            cw_record_get_number_at(proof_of(&bench, 9), kept[i]));
  g_assert_true(cw_job_prove_judge(bench.project, "driver", NULL));
  g_autofree char *found = findings_of(&bench);
  say_proofs(&bench);
  g_assert_cmpstr(found, ==, "speaker-misplaced:5 speaker-misplaced:9");
  g_assert_cmpint(cw_map_proof_get_same_as(proof_of(&bench, 5)), ==, 9);
  bench_close(&bench);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  for (guint i = 0; i < G_N_ELEMENTS(cases); i++) {
    g_autofree char *path = g_strdup_printf("/job/proving/%s-%u", cases[i].car, i);
    g_test_add_data_func(path, &cases[i], test_case);
  }
  g_test_add_func("/job/proving/again", test_again);
  g_test_add_func("/job/proving/half", test_half);
  g_test_add_func("/job/proving/bass-twice", test_bass_twice);
  g_test_add_func("/job/proving/refused", test_refused);
  return g_test_run();
}
