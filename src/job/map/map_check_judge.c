/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From what was heard on each output to which speaker stands there. Two that sound the same are one speaker.
 * Of the rest, a speaker that fits much better than the output's own is the one that is there. */
#include "job/findings/review.h"
#include "job/map/checked_by_hand.h"
#include "job/map/map_check_evidence.h"
#include <math.h>

#define MIDDLE_MS 0.05      /* arrivals nearer to each other are neither left nor right */
#define LEAST_HZ 120.0      /* below, the cabin decides how anything sounds ... */
#define WRONG_POINTS 3.0    /* an output that counts so many against its own speaker ... */
#define CLEARER_POINTS 2.0  /* ... and so many fewer against another stands on that one */
#define EXCHANGE_POINTS 2.2 /* two outputs together that have so much less against each other's speaker */
#define POINTS_A_MS 2.0
#define SHARED 0.4 /* of the sound that two outputs have in common, at both places */
#define SURELY_TWO 0.8
#define SAME 0.95         /* sameness of two outputs that drive one speaker */
#define ALIKE_DB 4.5      /* shapes that differ more are of two speakers, whose levels need not be the same */
#define NEARNESS_PART 0.3 /* of the direct sound's gain by nearness, in the echoes */
#define QUIETER_DB 4.8
#define QUIETER_UNKNOWN_DB 6.5 /* where the distances are not known */

/* Speakers of two kinds can only have changed places if the brighter kind is now heard on the other's output:
 * a pair's two sides alone do not tell on which of them it happened. */
static gboolean may_have_changed(const CwProvenWire *w, const CwProvenWire *other)
{
  static const int brightness[] = {
      [CW_WAY_SUB] = 0, [CW_WAY_LOW] = 1, [CW_WAY_MID] = 2, [CW_WAY_FULL] = 2, [CW_WAY_HIGH] = 3};
  int own = brightness[cw_speaker_get_way(w->speaker)],
      others = brightness[cw_speaker_get_way(other->speaker)];

  if (own == others || !other->heard || isnan(w->high_hz) || isnan(other->high_hz))
    return TRUE;
  return own < others ? w->high_hz > other->high_hz : w->high_hz < other->high_hz;
}

/* One speaker on two outputs, or one that both reach. */
static void compare_wires(const CwProvenRun *run, CwProvenWire *one, CwProvenWire *other)
{
  double sameness = cw_proven_compare(run, one, other, 0, cw_proving_sameness),
         likeness = sameness >= SAME ? sameness : cw_proven_compare(run, one, other, 0, cw_proving_likeness);
  CwProvenWire *both[] = {one, other};

  for (guint i = 0; i < 2 && likeness >= SHARED; i++) {
    double before = cw_map_proof_get_likeness(both[i]->proof);
    if (before >= likeness)
      continue;
    cw_map_proof_set_same_as(both[i]->proof, both[1 - i]->output);
    cw_map_proof_set_likeness(both[i]->proof, likeness);
  }
}

static gboolean is_free(const CwProvenWire *w)
{
  return w->heard && !w->like && cw_map_proof_get_same_as(w->proof) == CW_NO_INTEGER;
}

/* By how many points less two outputs have against them if their speakers have changed places. */
static double exchange_gain(const CwProvenRun *run, const CwProvenWire *one, const CwProvenWire *other)
{
  return cw_proven_points(run, one, one) + cw_proven_points(run, other, other) -
         cw_proven_points(run, one, other) - cw_proven_points(run, other, one);
}

/* How much nearer to the sheet two outputs arrive if exchanged, ms. Tapes are read too coarsely for a verdict
 * of its own. */
static double arrival_gain_ms(const CwProvenRun *run, const CwProvenWire *one, const CwProvenWire *other)
{
  double one_ms = one->arrival_ms - run->latency_ms, other_ms = other->arrival_ms - run->latency_ms,
         gain = fabs(one_ms - one->distance_ms) + fabs(other_ms - other->distance_ms) -
                fabs(one_ms - other->distance_ms) - fabs(other_ms - one->distance_ms);

  return isnan(gain) ? 0 : gain;
}

/* Speakers change places two by two as a rule, and both outputs tell of it: the exchange that mends most
 * first, until none mends enough. */
static void place_exchanged(const CwProvenRun *run)
{
  for (;;) {
    CwProvenWire *one = NULL, *other = NULL;
    double most = EXCHANGE_POINTS;
    for (guint i = 0; i < run->count; i++)
      for (guint k = 0; k < i; k++) {
        CwProvenWire *a = &run->wire[i], *b = &run->wire[k];
        if (!is_free(a) || !is_free(b) || !may_have_changed(a, b) || !may_have_changed(b, a))
          continue;
        double gain = exchange_gain(run, a, b) + POINTS_A_MS * arrival_gain_ms(run, a, b);
        if (gain >= most) {
          most = gain;
          one = a;
          other = b;
        }
      }
    if (!one)
      return;
    one->like = other;
    other->like = one;
  }
}

/* An output that is not one of two exchanged may still stand on another's speaker, as when that one is
 * silent. */
static void place_alone(const CwProvenRun *run, CwProvenWire *w)
{
  double own = cw_proven_points(run, w, w), best = own;

  for (guint i = 0; i < run->count; i++) {
    double points = cw_proven_points(run, w, &run->wire[i]);
    if (run->wire[i].heard && cw_proven_compare(run, w, &run->wire[i], 0, cw_proving_sameness) < SURELY_TWO)
      continue; /* whose own output sounds, and otherwise */
    if (points < best && may_have_changed(w, &run->wire[i])) {
      best = points;
      w->like = &run->wire[i];
    }
  }
  if (own < WRONG_POINTS || best > own - CLEARER_POINTS)
    w->like = w;
}

static void place_wire(const CwProvenRun *run, CwProvenWire *w)
{
  if (is_free(w))
    place_alone(run, w);
  if (!w->like)
    w->like = w;
  if (!isnan(w->side_ms))
    cw_map_proof_set_heard_side(w->proof, fabs(w->side_ms) < MIDDLE_MS ? CW_SIDE_BOTH
                                          : w->side_ms < 0             ? CW_SIDE_LEFT
                                                                       : CW_SIDE_RIGHT);
}

/* Its twin's level is what a speaker's should be, but for what nearness explains. Sound pairs differ in their
 * echoes by four decibels at most. */
static void judge_level(const CwProvenRun *run, const CwProvenWire *w)
{
  const CwProvenWire *mate = cw_proven_mate(run, w);
  gboolean known = mate && !isnan(w->distance_ms) && !isnan(mate->distance_ms);

  if (!mate || w->like != w || mate->like != mate || cw_map_proof_get_same_as(w->proof) != CW_NO_INTEGER ||
      !(cw_proven_difference_db(run, w, mate) < ALIKE_DB))
    return;
  double near = known ? NEARNESS_PART * 20 * log10(mate->distance_ms / w->distance_ms) : 0,
         least = cw_proven_compare(run, mate, w, LEAST_HZ, cw_proving_louder_db),
         most = -cw_proven_compare(run, w, mate, LEAST_HZ, cw_proving_louder_db),
         quieter = 0.5 * (least + most) + near;
  if (quieter < (known ? QUIETER_DB : QUIETER_UNKNOWN_DB) || isnan(quieter))
    return;
  cw_map_proof_set_quieter_than(w->proof, mate->output);
  cw_map_proof_set_quieter_db(w->proof, quieter);
}

/* Proven by the microphone where it could tell the side, or where there is none to tell; never against what
 * it heard. */
static void settle_wire(CwRecord *vehicle, const CwProvenWire *w)
{
  gboolean right_one = cw_map_proof_get_sounds_like(w->proof) == w->output &&
                       cw_map_proof_get_same_as(w->proof) == CW_NO_INTEGER;
  int side = cw_speaker_get_side(w->speaker);

  if (!right_one)
    cw_job_set_proven(vehicle, w->output, FALSE);
  else if (side == CW_SIDE_BOTH || cw_map_proof_get_heard_side(w->proof) == side)
    cw_job_set_proven(vehicle, w->output, TRUE);
}

gboolean cw_job_prove_judge(CwProject *project, const char *seat, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  CwProvenRun run = {.project = project, .count = cw_list_get_length(speakers)};
  guint tried = 0;

  run.wire = g_new0(CwProvenWire, run.count + 1);
  for (guint i = 0; i < run.count; i++) {
    run.wire[i] = cw_proven_read_wire(vehicle, cw_list_get(speakers, i), seat);
    tried += run.wire[i].proof && cw_map_proof_get_sounded(run.wire[i].proof) != CW_SOUNDED_UNTRIED;
  }
  run.latency_ms = cw_proven_find_latency(&run);
  for (guint i = 0; i < run.count; i++)
    for (guint k = 0; k < i; k++)
      if (run.wire[i].heard && run.wire[k].heard)
        compare_wires(&run, &run.wire[i], &run.wire[k]);
  place_exchanged(&run);
  for (guint i = 0; i < run.count; i++)
    if (run.wire[i].heard)
      place_wire(&run, &run.wire[i]);
  for (guint i = 0; i < run.count; i++)
    if (run.wire[i].heard)
      cw_map_proof_set_sounds_like(run.wire[i].proof, run.wire[i].like->output);
  for (guint i = 0; i < run.count; i++)
    if (run.wire[i].heard)
      judge_level(&run, &run.wire[i]);
  for (guint i = 0; i < run.count; i++)
    if (run.wire[i].heard)
      settle_wire(vehicle, &run.wire[i]);
    else if (run.wire[i].proof && cw_map_proof_get_sounded(run.wire[i].proof) == CW_SOUNDED_SILENT)
      cw_job_set_proven(vehicle, run.wire[i].output, FALSE);
  g_free(run.wire);
  cw_job_review(vehicle);
  return tried ? TRUE : cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "map: no output has been heard yet");
}
