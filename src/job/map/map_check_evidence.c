/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every output's sound is held against every speaker of the sheet: side by the arrivals left and right of the
 * head, distance by their mean, band by where it sounds and by how the speaker's mate sounds. */
#include "job/map/map_check_evidence.h"
#include "job/map/checked_by_hand.h"
#include "signal/sort.h"
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
#define SHARED_TO_HZ 8000.0

CwProvenWire cw_proven_read_wire(CwRecord *vehicle, CwRecord *speaker, const char *seat)
{
  CwProvenWire w = {.speaker = speaker,
                    .output = cw_speaker_get_output(speaker),
                    .side_ms = NAN,
                    .arrival_ms = NAN,
                    .distance_ms = NAN};
  const CwNumbers *distances = cw_speaker_get_distance_cm(speaker);

  w.proof = cw_job_find_map_proof(vehicle, w.output);
  w.heard = w.proof && cw_map_proof_get_sounded(w.proof) == CW_SOUNDED_HEARD;
  w.lowest_hz = cw_speaker_get_lowest_hz(speaker);
  w.distance_ms = distances ? cw_numbers_named(distances, seat) / 100 / METRES_A_SECOND * 1e3 : NAN;
  if (!w.heard)
    return w;
  double left = cw_map_proof_get_arrival_left_ms(w.proof), right = cw_map_proof_get_arrival_right_ms(w.proof);
  w.side_ms = left - right;
  w.arrival_ms = 0.5 * (left + right);
  w.low_hz = cw_map_proof_get_low_hz(w.proof);
  w.high_hz = cw_map_proof_get_high_hz(w.proof);
  return w;
}

/* What is common to all arrivals: the median of those of speakers whose arrival is sharp and whose distance
 * is known. */
double cw_proven_find_latency(const CwProvenRun *run)
{
  g_autofree double *late = g_new(double, run->count + 1);
  guint count = 0;

  for (guint i = 0; i < run->count; i++) {
    double difference = run->wire[i].arrival_ms - run->wire[i].distance_ms;
    if (run->wire[i].heard && !isnan(difference) && cw_speaker_get_way(run->wire[i].speaker) != CW_WAY_SUB)
      late[count++] = difference;
  }
  cw_sort_rising(late, count);
  return count >= 3 ? late[count / 2] : NAN;
}

static double points_beyond(double value, double free_value, double points_each)
{
  return isnan(value) ? 0 : fmin(fmax(value - free_value, 0) * points_each, MOST_POINTS);
}

static double side_points(const CwProvenWire *heard, const CwProvenWire *speaker)
{
  int side = cw_speaker_get_side(speaker->speaker);

  if (side == CW_SIDE_BOTH || isnan(heard->side_ms) || fabs(heard->side_ms) < MIDDLE_MS)
    return 0;
  return (heard->side_ms < 0) == (side == CW_SIDE_LEFT) ? 0 : MOST_POINTS;
}

static double distance_points(const CwProvenRun *run, const CwProvenWire *heard, const CwProvenWire *speaker)
{
  double off = fabs(heard->arrival_ms - run->latency_ms - speaker->distance_ms);
  gboolean soft =
      cw_speaker_get_way(speaker->speaker) == CW_WAY_SUB || cw_speaker_get_way(heard->speaker) == CW_WAY_SUB;

  return soft ? 0 : points_beyond(off, DISTANCE_FREE_MS, 1 / DISTANCE_STEP_MS);
}

/* The speaker of the same kind on the other side, if it was heard: what it sounds like is what this one
 * should. */
const CwProvenWire *cw_proven_mate(const CwProvenRun *run, const CwProvenWire *speaker)
{
  int side = cw_speaker_get_side(speaker->speaker);

  for (guint i = 0; i < run->count; i++) {
    CwRecord *other = run->wire[i].speaker;
    if (run->wire[i].heard && cw_map_proof_get_same_as(run->wire[i].proof) == CW_NO_INTEGER &&
        side != CW_SIDE_BOTH && cw_speaker_get_side(other) == CW_SIDE_LEFT + CW_SIDE_RIGHT - side &&
        cw_speaker_get_way(other) == cw_speaker_get_way(speaker->speaker) &&
        fabs(log2(run->wire[i].lowest_hz / speaker->lowest_hz)) < 0.5)
      return &run->wire[i];
  }
  return NULL;
}

/* The samples of one output at one place, or NULL; a broken file's are as good as none. */
static CwSamples *samples_of(const CwProvenRun *run, const CwProvenWire *w, CwProvingPlace place)
{
  g_autofree char *blob = cw_job_proving_blob(w->output, place);
  return cw_project_has_samples(run->project, blob) ? cw_project_get_samples(run->project, blob, NULL) : NULL;
}

/* How differently two outputs sound, mean of both places; NAN where they share too little of a band. */
double cw_proven_difference_db(const CwProvenRun *run, const CwProvenWire *one, const CwProvenWire *other)
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
static double begins_off(const CwProvenWire *heard, const CwProvenWire *speaker)
{
  double resonance = cw_speaker_get_fs_hz(speaker->speaker), start = 0.7 * heard->lowest_hz;
  double least =
             fmax(0.35 * (isnan(resonance) ? 0.5 * speaker->lowest_hz : fmin(resonance, speaker->lowest_hz)),
                  start),
         most = fmax(speaker->lowest_hz, start);

  return heard->low_hz < least  ? log2(least / heard->low_hz)
         : heard->low_hz > most ? log2(heard->low_hz / most)
                                : 0;
}

static double begin_points(const CwProvenWire *heard, const CwProvenWire *speaker)
{
  return points_beyond(begins_off(heard, speaker), LOW_FREE_OCTAVES, POINTS_AN_OCTAVE);
}

/* What an output has against itself without the comparison with its mate. */
static double alone_points(const CwProvenRun *run, const CwProvenWire *w)
{
  return side_points(w, w) + distance_points(run, w, w) + begin_points(w, w);
}

static gboolean is_placed_elsewhere(const CwProvenWire *w)
{
  return w->like && w->like != w;
}

/* Where it begins to sound, and how it sounds against the speaker's mate, unless the mate is the one that is
 * wrong. */
static double band_points(const CwProvenRun *run, const CwProvenWire *heard, const CwProvenWire *speaker)
{
  const CwProvenWire *mate = cw_proven_mate(run, speaker);
  double points = begin_points(heard, speaker);

  return mate && mate != heard && !is_placed_elsewhere(mate) &&
                 alone_points(run, mate) <= alone_points(run, heard)
             ? fmax(points,
                    points_beyond(cw_proven_difference_db(run, heard, mate), DIFFERENCE_FREE_DB, POINTS_A_DB))
             : points;
}

double cw_proven_points(const CwProvenRun *run, const CwProvenWire *heard, const CwProvenWire *speaker)
{
  return side_points(heard, speaker) + distance_points(run, heard, speaker) +
         band_points(run, heard, speaker);
}

/* Two outputs at one place by a comparison; NAN where one of them was not heard there. */
static double compare_at(const CwProvenRun *run, const CwProvenWire *one, const CwProvenWire *other,
                         CwProvingPlace place, double least_hz, CwProvingComparison compare)
{
  gboolean left = place == CW_PROVING_LEFT;
  const CwProvenWire *both[] = {one, other};
  CwProvingResponse response[2];
  g_autoptr(CwSamples) first = samples_of(run, one, place), second = samples_of(run, other, place);
  CwSamples *samples[] = {first, second};

  for (guint i = 0; i < 2; i++) {
    CwRecord *proof = both[i]->proof;
    double start_ms = left ? cw_map_proof_get_start_left_ms(proof) : cw_map_proof_get_start_right_ms(proof);
    double arrival_ms =
        left ? cw_map_proof_get_arrival_left_ms(proof) : cw_map_proof_get_arrival_right_ms(proof);
    if (!samples[i] || isnan(start_ms))
      return NAN;
    response[i] = (CwProvingResponse){samples[i]->values,
                                      samples[i]->n_frames,
                                      samples[i]->rate_hz,
                                      1e-3 * start_ms,
                                      fmax(least_hz, 0.7 * fmax(one->lowest_hz, other->lowest_hz)),
                                      SHARED_TO_HZ,
                                      1e-3 * arrival_ms};
  }
  return compare(&response[0], &response[1]);
}

/* The lesser of both places. */
double cw_proven_compare(const CwProvenRun *run, const CwProvenWire *one, const CwProvenWire *other,
                         double least_hz, CwProvingComparison compare)
{
  double left = compare_at(run, one, other, CW_PROVING_LEFT, least_hz, compare),
         right = compare_at(run, one, other, CW_PROVING_RIGHT, least_hz, compare);
  return isnan(left) || isnan(right) ? NAN : fmin(left, right);
}
