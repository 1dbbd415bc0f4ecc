/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "measuring/take.h"
#include "measuring/disturbance.h"
#include "measuring/impulse.h"
#include "measuring/known_band.h"
#include "measuring/repeated_sweeps.h"
#include "signal/log_grid.h"
#include "signal/response/arrival.h"
#include "signal/response/smoothing.h"
#include "signal/sort.h"
#include <math.h>
#include <stdbool.h>
#include <string.h>

#define STILL_AGREEMENT                                                                                      \
  0.95                /* of two markers: 0.9998 where nothing moved, a centimetre makes some 0.9 of it */
#define N_(text) text /* collected for translation; whoever shows it translates it */
#define FULL_SCALE 0.9995
#define HEARD_PART 0.46 /* of a recorder's rate: above it its own filter is heard */
#define EDGE                                                                                                 \
  1.3 /* of the start frequency: nearer to it, what rings at the end of the band is cut off by the window */
#define LEAST_POINT_SNR_DB                                                                                   \
  3.0                          /* of a point by itself: a dip in a well measured band is known well enough   \
                                */
#define LEAST_BAND_SNR_DB 18.0 /* of the 1/6 octave round it */
#define LEAST_TAKE_SNR_DB 20.0
#define LEAST_PEAK_DB 20.0
#define SURELY_THERE_DB 12.0
#define BAND_RANGE_DB 15.0
#define LEAST_ARRIVAL_SNR_DB 10.0
#define ARRIVAL_RANGE_DB 30.0
#define ALL_OF_ONE_TIME 0.85

const char *cw_take_fault_text(CwTakeFault fault)
{
  switch (fault) {
  case CW_TAKE_SILENT:
    return N_("the microphone's channel is silent: check cable, phantom power and input");
  case CW_TAKE_CLIPPED:
    return N_("the recording is clipped: turn the input gain down and take it again");
  case CW_TAKE_SHORT:
    return N_("the recording ends before the sweep does: record until the feed is over");
  case CW_TAKE_NO_SWEEP:
    return N_("the sweep of this output is not in the recording: check that the right feed was played");
  case CW_TAKE_QUIET:
    return N_("too quiet against the noise: raise the level or quieten the surroundings");
  case CW_TAKE_DISTURBED:
    return N_("something else sounded during the sweep: take it again");
  case CW_TAKE_LATE:
    return N_("the recording began too late: start it half a second before the feed");
  case CW_TAKE_MOVED:
    return N_("the microphone moved while it recorded: fix it, or hold still, and take it again");
  case CW_TAKE_WRONG_SPEAKER:
    return N_("another output's speaker sounded: check the wires and what the processor plays");
  case CW_TAKE_NO_TIMING:
  default:
    return N_("no timing: the loopback is silent or the markers were not found");
  }
}

static unsigned judge_recording(const CwTakeInput *input)
{
  size_t over = 0;
  double top = 0;
  unsigned faults = 0;

  for (size_t i = 0; i < input->frames; i++) {
    top = fmax(top, fabs(input->microphone[i]));
    over += fabs(input->microphone[i]) >= FULL_SCALE;
  }
  if (top < 1e-6)
    faults |= CW_TAKE_SILENT;
  if (over >= 2)
    faults |= CW_TAKE_CLIPPED;
  if ((double)input->frames <
      (input->feed->sweep.seconds + (input->feed->repeats - 1) * input->feed->period_seconds + 0.3) *
          input->rate_hz)
    faults |= CW_TAKE_SHORT;
  return faults;
}

static void power_of(const CwComplex *spectrum, size_t bins, double *power)
{
  for (size_t i = 0; i < bins; i++)
    power[i] = creal(spectrum[i]) * creal(spectrum[i]) + cimag(spectrum[i]) * cimag(spectrum[i]);
}

double cw_take_top_hz(double sweep_stop_hz, double recorder_rate_hz)
{
  return fmin(sweep_stop_hz, HEARD_PART * recorder_rate_hz);
}

/* Response, level and SNR over the points of the grid. */
static void read_response(const CwTakeInput *input, const CwImpulse *impulse, CwTakeResult *result)
{
  const CwSweep *sweep = &input->feed->sweep;
  size_t bins = impulse->length / 2 + 1, count = 0;
  double *power = cw_alloc_real(bins), mean[CW_TAKE_POINTS], noise[CW_TAKE_POINTS], snr[CW_TAKE_POINTS],
         own[CW_TAKE_POINTS] /* without the noise */, top = 0, sum = 0;
  double wide_mean[CW_TAKE_POINTS], wide_noise[CW_TAKE_POINTS], half_step_hz[2 * CW_TAKE_POINTS],
      half_step_mean[2 * CW_TAKE_POINTS];
  bool known[CW_TAKE_POINTS];
  double bin_hz = impulse->rate_hz / (double)impulse->length,
         top_hz = cw_take_top_hz(sweep->stop_hz, input->rate_hz);

  cw_log_grid_fill(CW_TAKE_LOW_HZ, CW_TAKE_POINTS_PER_OCTAVE, CW_TAKE_POINTS, result->hz);
  power_of(impulse->spectrum, bins, power);
  cw_smooth_power(power, bins, bin_hz, CW_TAKE_SMOOTHING_OCTAVES, result->hz, CW_TAKE_POINTS, mean);
  cw_smooth_power(impulse->noise_power, bins, bin_hz, CW_TAKE_SMOOTHING_OCTAVES, result->hz, CW_TAKE_POINTS,
                  noise);
  cw_smooth_power(power, bins, bin_hz, 1.0 / 6, result->hz, CW_TAKE_POINTS, wide_mean);
  cw_log_grid_fill(CW_TAKE_LOW_HZ, 2 * CW_TAKE_POINTS_PER_OCTAVE, 2 * CW_TAKE_POINTS, half_step_hz);
  cw_smooth_power(power, bins, bin_hz, CW_KNOWN_BAND_OCTAVES, half_step_hz, 2 * CW_TAKE_POINTS,
                  half_step_mean);
  cw_smooth_power(impulse->noise_power, bins, bin_hz, 1.0 / 6, result->hz, CW_TAKE_POINTS, wide_noise);
  for (size_t i = 0; i < CW_TAKE_POINTS; i++) {
    bool inside = result->hz[i] > EDGE * sweep->start_hz && result->hz[i] < 0.97 * top_hz;
    double above = 10 * log10((wide_mean[i] + 1e-300) / (wide_noise[i] + 1e-300));
    known[i] = inside && above >= LEAST_BAND_SNR_DB && mean[i] >= noise[i] * pow(10, LEAST_POINT_SNR_DB / 10);
    snr[i] = result->band_snr_db[i] = inside ? above : NAN;
    own[i] = inside ? fmax(mean[i] - noise[i], 0) : 0;
    top = fmax(top, own[i]);
  }
  cw_known_band_settle(mean, half_step_mean, CW_TAKE_POINTS, CW_TAKE_POINTS_PER_OCTAVE, known);
  for (size_t i = 0; i < CW_TAKE_POINTS; i++)
    result->db[i] = known[i] ? 10 * log10(mean[i]) + input->spl_at_full_scale : NAN;
  for (size_t i = 0; i < CW_TAKE_POINTS; i++)
    if (own[i] > top * pow(10, -BAND_RANGE_DB / 10)) {
      sum += own[i];
      snr[count++] = snr[i];
    }
  cw_sort_rising(snr, count);
  result->snr_db = count ? snr[count / 2] : NAN;
  result->level_db_spl =
      count ? 10 * log10(sum / (double)count) + 20 * log10(sweep->level) + input->spl_at_full_scale : NAN;
  if (!(result->snr_db >= LEAST_TAKE_SNR_DB))
    result->faults |= CW_TAKE_QUIET;
  cw_free(power);
}

void cw_take_find_edges(const CwEdgeSource *kept, CwEdges *edges)
{
  double lead = (double)kept->frames / kept->rate_hz - CW_IMPULSE_WINDOW_SECONDS;

  cw_edges_find(kept, fmax(lead, 0), edges);
}

/* The band above the noise in third octaves, as the take keeps it. */
static size_t thirds(const CwTakeResult *result, double *hz, double *db)
{
  size_t count = 0;

  for (size_t i = 0; i < CW_TAKE_POINTS; i += CW_TAKE_POINTS_PER_OCTAVE / 3)
    if (!isnan(result->band_snr_db[i])) {
      hz[count] = result->hz[i];
      db[count++] = result->band_snr_db[i];
    }
  return count;
}

/* Where all of a response is of one time, its excess phase tells that time better than an edge can: the edge
 * that is there takes it over. */
static void sharpen(const CwSweep *sweep, double top_hz, const CwImpulse *impulse, CwEdges *edges)
{
  size_t bins = impulse->length / 2 + 1;
  double *power = cw_alloc_real(bins), *hz = cw_alloc_real(bins), *usable = cw_alloc_real(bins);
  CwArrival arrival;

  power_of(impulse->spectrum, bins, power);
  for (size_t i = 0; i < bins; i++)
    hz[i] = fmax((double)i, 1) * impulse->rate_hz / (double)impulse->length;
  cw_smooth_power(power, bins, impulse->rate_hz / (double)impulse->length, 1.0 / 3, hz, bins, usable);
  for (size_t i = 0; i < bins; i++)
    usable[i] = usable[i] > impulse->noise_power[i] * pow(10, LEAST_ARRIVAL_SNR_DB / 10);
  arrival = cw_arrival_find(impulse->spectrum, impulse->length, impulse->rate_hz, 1.1 * sweep->start_hz,
                            0.95 * top_hz, usable, ARRIVAL_RANGE_DB);
  for (size_t i = 0; i < edges->count && arrival.confidence >= ALL_OF_ONE_TIME; i++)
    if (fabs(edges->edge[i].seconds - arrival.seconds) < 0.5 / edges->high_hz &&
        edges->edge[i].height * arrival.polarity > 0 &&
        (i == 0 || edges->edge[i - 1].seconds < arrival.seconds) &&
        (i + 1 == edges->count || edges->edge[i + 1].seconds > arrival.seconds))
      edges->edge[i].seconds = arrival.seconds;
  cw_free(power);
  cw_free(hz);
  cw_free(usable);
}

/* Edges from what is kept, so that they can be found again; the arrival and polarity of the likeliest. */
static void read_arrival(const CwTakeInput *input, const CwFeedPlace *place, const CwImpulse *impulse,
                         CwTakeResult *result)
{
  double hz[CW_TAKE_POINTS], db[CW_TAKE_POINTS], start;
  CwEdgeSource kept = {.samples = result->impulse,
                       .frames = result->impulse_frames,
                       .rate_hz = result->impulse_rate_hz,
                       .low_hz = input->feed->sweep.start_hz,
                       .high_hz = cw_take_top_hz(input->feed->sweep.stop_hz, input->rate_hz),
                       .snr_hz = hz,
                       .snr_db = db,
                       .snr_count = thirds(result, hz, db)};
  const CwEdge *best = NULL;

  cw_take_find_edges(&kept, &result->edges);
  sharpen(&input->feed->sweep, kept.high_hz, impulse, &result->edges);
  for (size_t i = 0; i < result->edges.count; i++)
    if (!best || result->edges.edge[i].likelihood > best->likelihood)
      best = &result->edges.edge[i];
  start = place->found ? (impulse->first_frame - place->reference_frame) / place->player_rate_hz
          : best       ? -best->seconds
                       : 0;
  result->impulse_start_seconds = start;
  for (size_t i = 0; i < result->edges.count; i++)
    result->edges.edge[i].seconds += start;
  if (!best)
    return;
  result->polarity = best->height < 0 ? -1 : 1;
  result->polarity_confidence = best->likelihood;
  if (place->found)
    result->arrival_seconds = best->seconds;
}

/* Harmonics in per cent where they stand clear of what noise alone would show there. */
static void read_distortion(const CwTakeInput *input, const CwFeedPlace *place, const CwImpulse *impulse,
                            const double *deconvolved, size_t length, CwTakeResult *result)
{
  const CwSweep *sweep = &input->feed->sweep;
  double bin_hz = impulse->rate_hz / (double)impulse->length,
         peak = impulse->first_frame + (double)impulse->lead_frames;
  double *ratio[2] = {result->second_percent, result->third_percent};

  for (size_t i = 0; i < CW_TAKE_DISTORTION_POINTS; i++)
    result->distortion_hz[i] = 20 * exp2((double)i / 3);
  for (int harmonic = 2; harmonic <= 3; harmonic++) {
    cw_sweep_distortion(sweep, place->player_rate_hz, deconvolved, length, peak, harmonic,
                        result->distortion_hz, CW_TAKE_DISTORTION_POINTS, ratio[harmonic - 2]);
    for (size_t i = 0; i < CW_TAKE_DISTORTION_POINTS; i++) {
      double hz = result->distortion_hz[i], *value = &ratio[harmonic - 2][i];
      size_t at = (size_t)(hz / bin_hz), up = (size_t)(hz * harmonic / bin_hz),
             bins = impulse->length / 2 + 1;
      if (isnan(*value) || up >= bins)
        continue;
      double floor =
          sqrt(impulse->noise_power[up]) / (cabs(impulse->spectrum[at]) * cw_sweep_shape(sweep, hz) + 1e-300);
      bool heard = cabs(impulse->spectrum[at]) * cabs(impulse->spectrum[at]) > 100 * impulse->noise_power[at];
      *value = heard && *value > 2 * floor ? 100 * *value : NAN;
    }
  }
}

static void keep_impulse(const CwImpulse *impulse, double player_rate_hz, CwTakeResult *result)
{
  result->impulse = cw_alloc_bytes(impulse->window * sizeof *result->impulse);
  result->impulse_frames = impulse->window;
  result->impulse_rate_hz = player_rate_hz;
  for (size_t i = 0; i < impulse->window; i++)
    result->impulse[i] = (float)impulse->samples[i];
}

static void clear_findings(CwTakeResult *result)
{
  memset(result, 0, sizeof *result);
  result->arrival_seconds = result->latency_seconds = result->level_db_spl = result->snr_db =
      result->rattle_hz = result->rattle_db = NAN;
  cw_log_grid_fill(CW_TAKE_LOW_HZ, CW_TAKE_POINTS_PER_OCTAVE, CW_TAKE_POINTS, result->hz);
  for (size_t i = 0; i < CW_TAKE_POINTS; i++)
    result->db[i] = result->band_snr_db[i] = NAN;
  for (size_t i = 0; i < CW_TAKE_DISTORTION_POINTS; i++) {
    result->distortion_hz[i] = 20 * exp2((double)i / 3);
    result->second_percent[i] = result->third_percent[i] = NAN;
  }
}

static void analyse_one(const CwTakeInput *input, const CwFeedPlace *place, CwTakeResult *result)
{
  CwSweepInverse *inverse;
  CwImpulse impulse;
  CwDisturbance disturbance;
  double *deconvolved;
  size_t length;

  if (input->timing != CW_TIMING_NONE && !place->found)
    result->faults |= CW_TAKE_NO_TIMING;
  result->player_ppm = place->player_ppm;
  if (input->timing == CW_TIMING_LOOPBACK && place->found)
    result->latency_seconds = place->reference_frame / place->player_rate_hz - input->feed->sweep_at;
  inverse = cw_sweep_inverse_new(&input->feed->sweep, place->player_rate_hz, input->frames);
  length = cw_sweep_inverse_length(inverse);
  deconvolved = cw_alloc_real(length);
  cw_sweep_deconvolve(inverse, input->microphone, input->frames, deconvolved);
  cw_impulse_cut(input, place, deconvolved, length, &impulse);
  read_response(input, &impulse, result);
  /* No peak may also be noise outside of the speaker's band, above which it stands all the same. */
  if (impulse.peak_over_rest_db < LEAST_PEAK_DB && !(result->snr_db >= SURELY_THERE_DB))
    result->faults |= CW_TAKE_NO_SWEEP;
  else if (!impulse.noise_known)
    result->faults |= CW_TAKE_LATE;
  read_distortion(input, place, &impulse, deconvolved, length, result);
  disturbance = cw_disturbance_find(input, place, impulse.first_frame + impulse.lead_frames);
  if (disturbance.disturbed)
    result->faults |= CW_TAKE_DISTURBED;
  result->rattle_hz = disturbance.rattle_hz;
  result->rattle_db = disturbance.rattle_db;
  keep_impulse(&impulse, place->player_rate_hz, result);
  read_arrival(input, place, &impulse, result);
  if (place->agreement < STILL_AGREEMENT &&
      !(result->faults & (CW_TAKE_NO_SWEEP | CW_TAKE_CLIPPED | CW_TAKE_DISTURBED)))
    result->faults |= CW_TAKE_MOVED;
  cw_impulse_clear(&impulse);
  cw_free(deconvolved);
  cw_sweep_inverse_free(inverse);
}

/* The repeats between two markers. Where they differ but the microphone has not moved, something else
 * sounded. */
static void analyse_between_markers(const CwTakeInput *input, CwTakeResult *result)
{
  CwMarkedRepeats fold;

  cw_average_between_markers(input, &fold);
  if (!fold.found) {
    result->faults |= CW_TAKE_NO_TIMING;
    return;
  }
  analyse_one(&fold.input, &fold.place, result);
  if (fold.disagree && !(result->faults & (CW_TAKE_NO_SWEEP | CW_TAKE_CLIPPED | CW_TAKE_MOVED)))
    result->faults |= fold.place.agreement >= STILL_AGREEMENT ? CW_TAKE_DISTURBED : CW_TAKE_MOVED;
  cw_marked_repeats_clear(&fold);
}

void cw_take_analyse(const CwTakeInput *input, CwTakeResult *result)
{
  CwTakeInput folded = *input;
  CwFeedPlace place;
  bool disagree = false;

  clear_findings(result);
  result->faults = judge_recording(input);
  if (result->faults & (CW_TAKE_SILENT | CW_TAKE_SHORT))
    return;
  if (input->feed->repeats > 1 && input->feed->has_marker) {
    analyse_between_markers(input, result);
    return;
  }
  if (input->feed->repeats > 1)
    disagree = cw_average_repeats(input, &folded);
  place = cw_feed_place(&folded);
  analyse_one(&folded, &place, result);
  if (disagree && !(result->faults & (CW_TAKE_NO_SWEEP | CW_TAKE_CLIPPED | CW_TAKE_DISTURBED)))
    result->faults |= CW_TAKE_MOVED;
  if (input->feed->repeats > 1)
    cw_averaged_repeats_clear(&folded);
}

void cw_take_result_clear(CwTakeResult *result)
{
  cw_free(result->impulse);
  result->impulse = NULL;
}
