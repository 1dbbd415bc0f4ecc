/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From what was heard on each output to which speaker stands there. Every output's sound is held against
 * every speaker of the sheet: side by the arrivals left and right of the head, distance by their mean, band
 * by where it sounds. A speaker that fits much better than the output's own is the one that is there. */
#include "job/hands.h"
#include "job/proving.h"
#include "job/review.h"
#include "signal/memory.h"
#include <math.h>

#define METRES_A_SECOND 343.2
#define MIDDLE_MS 0.05        /* arrivals nearer to each other are neither left nor right */
#define DISTANCE_FREE_MS 0.35 /* 12 cm: tapes are read to the dash, not to the cone */
#define DISTANCE_STEP_MS 0.25 /* so much more counts one point */
#define MOST_POINTS 4.0       /* that any one of the three can count */
#define LOW_FREE_OCTAVES 0.8
#define POINTS_AN_OCTAVE 2.5
#define DIFFERENCE_FREE_DB 4.5 /* left and right of a pair differ by two to four in a cabin */
#define POINTS_A_DB 2.0
#define LEAST_HZ 120.0     /* below, the cabin decides how anything sounds ... */
#define HIGHEST_HZ 14000.0 /* ... and above, where the microphone points */
#define WRONG_POINTS 3.0   /* an output that counts so many against its own speaker ... */
#define CLEARER_POINTS 2.0 /* ... and so many fewer against another stands on that one */
#define MUTUAL_POINTS 1.5  /* enough against a speaker in whose place another one was found */
#define SHARED_TO_HZ 8000.0
#define SHARED 0.4 /* of the sound that two outputs have in common, at both places */

typedef struct Wire Wire;
struct Wire {
  CwRecord *speaker, *proof;
  gint64 output;
  gboolean heard;
  double side_ms;     /* left after right: negative on the left; NAN if not known */
  double arrival_ms;  /* mean of both places */
  double distance_ms; /* by the sheet; NAN */
  double low_hz, high_hz, lowest_hz;
  const Wire *like; /* whose speaker it sounds like */
};

typedef struct {
  CwProject *project;
  guint count;
  Wire *wire;
  double latency_ms;
} Run;

static int by_value(const void *a, const void *b)
{
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static Wire read_wire(CwRecord *vehicle, CwRecord *speaker, const char *seat)
{
  Wire w = {.speaker = speaker,
            .output = cw_record_get_integer(speaker, "output"),
            .side_ms = NAN,
            .arrival_ms = NAN,
            .distance_ms = NAN};
  const CwNumbers *distances = cw_record_get_numbers(speaker, "distance_cm");

  w.proof = cw_job_find_map_proof(vehicle, w.output);
  w.heard = w.proof && cw_record_get_choice(w.proof, "sounded") == CW_SOUNDED_HEARD;
  w.lowest_hz = cw_record_get_number(speaker, "lowest_hz");
  w.distance_ms = distances ? cw_numbers_named(distances, seat) / 100 / METRES_A_SECOND * 1e3 : NAN;
  if (!w.heard)
    return w;
  double left = cw_record_get_number(w.proof, "arrival_left_ms"),
         right = cw_record_get_number(w.proof, "arrival_right_ms");
  w.side_ms = left - right;
  w.arrival_ms = 0.5 * (left + right);
  w.low_hz = cw_record_get_number(w.proof, "low_hz");
  w.high_hz = cw_record_get_number(w.proof, "high_hz");
  return w;
}

/* What is common to all arrivals: the median of those of speakers whose arrival is sharp and whose distance
 * is known. */
static double find_latency(const Run *run)
{
  g_autofree double *late = g_new(double, run->count + 1);
  guint count = 0;

  for (guint i = 0; i < run->count; i++) {
    double difference = run->wire[i].arrival_ms - run->wire[i].distance_ms;
    if (run->wire[i].heard && !isnan(difference) &&
        cw_record_get_choice(run->wire[i].speaker, "way") != CW_WAY_SUB)
      late[count++] = difference;
  }
  qsort(late, count, sizeof *late, by_value);
  return count >= 3 ? late[count / 2] : NAN;
}

static double points_beyond(double value, double free_value, double points_each)
{
  return isnan(value) ? 0 : fmin(fmax(value - free_value, 0) * points_each, MOST_POINTS);
}

static double side_points(const Wire *heard, const Wire *speaker)
{
  int side = cw_record_get_choice(speaker->speaker, "side");

  if (side == CW_SIDE_BOTH || isnan(heard->side_ms) || fabs(heard->side_ms) < MIDDLE_MS)
    return 0;
  return (heard->side_ms < 0) == (side == CW_SIDE_LEFT) ? 0 : MOST_POINTS;
}

static double distance_points(const Run *run, const Wire *heard, const Wire *speaker)
{
  double off = fabs(heard->arrival_ms - run->latency_ms - speaker->distance_ms);
  gboolean soft = cw_record_get_choice(speaker->speaker, "way") == CW_WAY_SUB ||
                  cw_record_get_choice(heard->speaker, "way") == CW_WAY_SUB;

  return soft ? 0 : points_beyond(off, DISTANCE_FREE_MS, 1 / DISTANCE_STEP_MS);
}

/* The speaker of the same kind on the other side, if it was heard: what it sounds like is what this one
 * should. */
static const Wire *mate_of(const Run *run, const Wire *speaker)
{
  int side = cw_record_get_choice(speaker->speaker, "side");

  for (guint i = 0; i < run->count; i++) {
    CwRecord *other = run->wire[i].speaker;
    if (run->wire[i].heard && cw_record_get_integer(run->wire[i].proof, "same_as") == CW_NO_INTEGER &&
        side != CW_SIDE_BOTH && cw_record_get_choice(other, "side") == CW_SIDE_LEFT + CW_SIDE_RIGHT - side &&
        cw_record_get_choice(other, "way") == cw_record_get_choice(speaker->speaker, "way") &&
        fabs(log2(run->wire[i].lowest_hz / speaker->lowest_hz)) < 0.5)
      return &run->wire[i];
  }
  return NULL;
}

/* The samples of one output at one place, or NULL; a broken file's are as good as none. */
static CwSamples *samples_of(const Run *run, const Wire *w, CwProvingPlace place)
{
  g_autofree char *blob = cw_job_proving_blob(w->output, place);
  return cw_project_has_samples(run->project, blob) ? cw_project_get_samples(run->project, blob, NULL) : NULL;
}

/* How differently two outputs sound, mean of both places; NAN where they share too little of a band. */
static double difference_db(const Run *run, const Wire *one, const Wire *other)
{
  double low = fmax(LEAST_HZ, 0.7 * fmax(one->lowest_hz, other->lowest_hz)), sum = 0;

  for (int place = CW_PROVING_LEFT; place <= CW_PROVING_RIGHT; place++) {
    g_autoptr(CwSamples) a = samples_of(run, one, (CwProvingPlace)place),
                         b = samples_of(run, other, (CwProvingPlace)place);
    if (!a || !b)
      return NAN;
    CwProvingResponse first = {a->values, a->n_frames, a->rate_hz, 0, low, HIGHEST_HZ, 0},
                      second = {b->values, b->n_frames, b->rate_hz, 0, low, HIGHEST_HZ, 0};
    sum += cw_proving_difference_db(&first, &second) / 2;
  }
  return sum;
}

/* By how many octaves it begins to sound outside of where the speaker can: from well below its resonance,
 * where it has faded by 15 dB, to the lowest frequency that it is driven at. A sweep tells nothing below its
 * own start. */
static double begins_off(const Wire *heard, const Wire *speaker)
{
  double resonance = cw_record_get_number(speaker->speaker, "fs_hz"), start = 0.7 * heard->lowest_hz;
  double least =
             fmax(0.35 * (isnan(resonance) ? 0.5 * speaker->lowest_hz : fmin(resonance, speaker->lowest_hz)),
                  start),
         most = fmax(speaker->lowest_hz, start);

  return heard->low_hz < least  ? log2(least / heard->low_hz)
         : heard->low_hz > most ? log2(heard->low_hz / most)
                                : 0;
}

/* Where it begins to sound, and how it sounds against the speaker's mate. */
static double band_points(const Run *run, const Wire *heard, const Wire *speaker)
{
  const Wire *mate = mate_of(run, speaker);
  double points = points_beyond(begins_off(heard, speaker), LOW_FREE_OCTAVES, POINTS_AN_OCTAVE);

  return mate && mate != heard
             ? fmax(points, points_beyond(difference_db(run, heard, mate), DIFFERENCE_FREE_DB, POINTS_A_DB))
             : points;
}

static double points_against(const Run *run, const Wire *heard, const Wire *speaker)
{
  return side_points(heard, speaker) + distance_points(run, heard, speaker) +
         band_points(run, heard, speaker);
}

/* Speakers of two kinds can only have changed places if the brighter kind is now heard on the other's output:
 * a pair's two sides alone do not tell on which of them it happened. */
static gboolean may_have_changed(const Wire *w, const Wire *other)
{
  static const int brightness[] = {
      [CW_WAY_SUB] = 0, [CW_WAY_LOW] = 1, [CW_WAY_MID] = 2, [CW_WAY_FULL] = 2, [CW_WAY_HIGH] = 3};
  int own = brightness[cw_record_get_choice(w->speaker, "way")],
      others = brightness[cw_record_get_choice(other->speaker, "way")];

  if (own == others || !other->heard || isnan(w->high_hz) || isnan(other->high_hz))
    return TRUE;
  return own < others ? w->high_hz > other->high_hz : w->high_hz < other->high_hz;
}

static void place_wire(const Run *run, Wire *w)
{
  double own = points_against(run, w, w), best = own;

  w->like = w;
  for (guint i = 0; i < run->count; i++) {
    double points = points_against(run, w, &run->wire[i]);
    if (points < best && may_have_changed(w, &run->wire[i])) {
      best = points;
      w->like = &run->wire[i];
    }
  }
  if (own < WRONG_POINTS || best > own - CLEARER_POINTS)
    w->like = w;
  if (!isnan(w->side_ms))
    cw_record_set_choice(w->proof, "heard_side",
                         fabs(w->side_ms) < MIDDLE_MS ? CW_SIDE_BOTH
                         : w->side_ms < 0             ? CW_SIDE_LEFT
                                                      : CW_SIDE_RIGHT);
}

/* Two speakers change places as a rule: where one of them was found in the other's, less is enough for the
 * other. */
static void place_others(const Run *run)
{
  for (guint i = 0; i < run->count; i++) {
    Wire *w = &run->wire[i];
    for (guint k = 0; k < run->count; k++) {
      double own =
          w->heard && w->like == w && run->wire[k].like == w && k != i ? points_against(run, w, w) : 0;
      if (own >= MUTUAL_POINTS && may_have_changed(w, &run->wire[k]) &&
          points_against(run, w, &run->wire[k]) <= own - MUTUAL_POINTS)
        w->like = &run->wire[k];
    }
  }
  for (guint i = 0; i < run->count; i++)
    if (run->wire[i].heard)
      cw_record_set_integer(run->wire[i].proof, "sounds_like", run->wire[i].like->output);
}

static double likeness_at(const Run *run, const Wire *one, const Wire *other, CwProvingPlace place)
{
  const char *start = place == CW_PROVING_LEFT ? "start_left_ms" : "start_right_ms",
             *arrival = place == CW_PROVING_LEFT ? "arrival_left_ms" : "arrival_right_ms";
  g_autoptr(CwSamples) a = samples_of(run, one, place), b = samples_of(run, other, place);
  double a_start = cw_record_get_number(one->proof, start),
         b_start = cw_record_get_number(other->proof, start);
  double low = 0.7 * fmax(one->lowest_hz, other->lowest_hz);

  if (!a || !b || isnan(a_start) || isnan(b_start))
    return NAN;
  CwProvingResponse first = {a->values,
                             a->n_frames,
                             a->rate_hz,
                             1e-3 * a_start,
                             low,
                             SHARED_TO_HZ,
                             1e-3 * cw_record_get_number(one->proof, arrival)};
  CwProvingResponse second = {b->values,
                              b->n_frames,
                              b->rate_hz,
                              1e-3 * b_start,
                              low,
                              SHARED_TO_HZ,
                              1e-3 * cw_record_get_number(other->proof, arrival)};
  return cw_proving_likeness(&first, &second);
}

static void compare_wires(const Run *run, Wire *one, Wire *other)
{
  double left = likeness_at(run, one, other, CW_PROVING_LEFT),
         right = likeness_at(run, one, other, CW_PROVING_RIGHT);
  double likeness = isnan(left) || isnan(right) ? NAN : fmin(left, right);
  Wire *both[] = {one, other};

  for (guint i = 0; i < 2 && likeness >= SHARED; i++) {
    double before = cw_record_get_number(both[i]->proof, "likeness");
    if (before >= likeness)
      continue;
    cw_record_set_integer(both[i]->proof, "same_as", both[1 - i]->output);
    cw_record_set_number(both[i]->proof, "likeness", likeness);
  }
}

/* Proven by the microphone where it could tell the side, or where there is none to tell; never against what
 * it heard. */
static void settle_wire(CwRecord *vehicle, const Wire *w)
{
  gboolean right_one = cw_record_get_integer(w->proof, "sounds_like") == w->output &&
                       cw_record_get_integer(w->proof, "same_as") == CW_NO_INTEGER;
  int side = cw_record_get_choice(w->speaker, "side");

  if (!right_one)
    cw_job_set_proven(vehicle, w->output, FALSE);
  else if (side == CW_SIDE_BOTH || cw_record_get_choice(w->proof, "heard_side") == side)
    cw_job_set_proven(vehicle, w->output, TRUE);
}

gboolean cw_job_prove_judge(CwProject *project, const char *seat, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  CwList *speakers = cw_record_get_children(vehicle, "speakers");
  Run run = {.project = project, .count = cw_list_get_length(speakers)};
  guint tried = 0;

  run.wire = g_new0(Wire, run.count + 1);
  for (guint i = 0; i < run.count; i++) {
    run.wire[i] = read_wire(vehicle, cw_list_get(speakers, i), seat);
    tried += run.wire[i].proof && cw_record_get_choice(run.wire[i].proof, "sounded") != CW_SOUNDED_UNTRIED;
  }
  run.latency_ms = find_latency(&run);
  for (guint i = 0; i < run.count; i++)
    for (guint k = 0; k < i; k++)
      if (run.wire[i].heard && run.wire[k].heard)
        compare_wires(&run, &run.wire[i], &run.wire[k]);
  for (guint i = 0; i < run.count; i++)
    if (run.wire[i].heard)
      place_wire(&run, &run.wire[i]);
  place_others(&run);
  for (guint i = 0; i < run.count; i++)
    if (run.wire[i].heard)
      settle_wire(vehicle, &run.wire[i]);
    else if (run.wire[i].proof && cw_record_get_choice(run.wire[i].proof, "sounded") == CW_SOUNDED_SILENT)
      cw_job_set_proven(vehicle, run.wire[i].output, FALSE);
  g_free(run.wire);
  cw_job_review(vehicle);
  return tried ? TRUE : cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "map: no output has been heard yet");
}
