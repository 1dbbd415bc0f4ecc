/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/recording/track_place.h"
#include <math.h>

#define MOST_PPM 400.0
#define LEAST_SNR_DB 16.0
#define MOST_HITS 24
#define CLEAR_DB 10.0          /* below the clearest, of a hit that counts */
#define ALIKE_DB 6.0           /* by which the markers of one track differ at most */
#define SEARCH_RATE_HZ 21000.0 /* the search alone needs no more */
#define WINDOW_MARGIN_SECONDS 0.25

typedef struct {
  CwMarkerHit hit[MOST_HITS];
  size_t count;
} Hits;

/* The markers in one channel, looked for at a low rate: the lower part of a linear burst is the burst cut
 * short. */
static Hits find_hits(const CwMarker *marker, const double *samples, size_t frames, double rate_hz)
{
  Hits hits = {0};
  size_t step = (size_t)fmax(1, floor(rate_hz / SEARCH_RATE_HZ)), count = frames / step;
  double low_rate = rate_hz / (double)step, top = fmin(marker->high_hz, 0.45 * low_rate),
         *few = cw_alloc_real(count + 1);
  CwMarker part = *marker;

  for (size_t i = 0; i < count; i++) {
    for (size_t k = 0; k < step; k++)
      few[i] += samples[i * step + k];
    few[i] /= (double)step;
  }
  part.high_hz = top;
  part.seconds = marker->seconds * (top - marker->low_hz) / (marker->high_hz - marker->low_hz);
  hits.count =
      cw_marker_find(&part, low_rate, few, count, 2 * marker->seconds, LEAST_SNR_DB, hits.hit, MOST_HITS);
  for (size_t i = 0; i < hits.count; i++) /* the mean of a block stands for its middle */
    hits.hit[i].at_seconds += 0.5 * (double)(step - 1) / rate_hz;
  cw_free(few);
  return hits;
}

/* The hit nearest to a time, within the slack and about as clear as another; -1 for none. */
static int hit_near(const Hits *hits, double seconds, double slack, double snr_db)
{
  int best = -1;
  for (size_t i = 0; i < hits->count; i++)
    if (fabs(hits->hit[i].at_seconds - seconds) <= slack && fabs(hits->hit[i].snr_db - snr_db) < ALIKE_DB &&
        (best < 0 || fabs(hits->hit[i].at_seconds - seconds) < fabs(hits->hit[best].at_seconds - seconds)))
      best = (int)i;
  return best;
}

/* Which of the track's markers are there if hit number index is marker number which: a set of bits. */
static unsigned matches(const CwStimulus *s, const Hits *hits, size_t index, size_t which, int *found)
{
  unsigned set = 0;
  for (size_t m = 0; m < s->markers; m++) {
    double apart = s->marker_at[m] - s->marker_at[which];
    found[m] = m == which ? (int)index
                          : hit_near(hits, hits->hit[index].at_seconds + apart,
                                     1e-3 + fabs(apart) * MOST_PPM * 1e-6, hits->hit[index].snr_db);
    set |= found[m] >= 0 ? 1u << m : 0;
  }
  return set;
}

/* The largest set of the track's markers that the hits hold; of equal ones the earliest, unless another is
 * much clearer. clear_db is told how clear its first hit is. */
static unsigned best_match(const CwStimulus *s, const Hits *hits, int *found, double *clear_db)
{
  unsigned best = 0;

  *clear_db = -INFINITY;
  for (size_t i = 0; i < hits->count; i++)
    for (size_t m = 0; m < s->markers; m++) {
      int now[CW_STIMULUS_MOST_MARKERS];
      unsigned set = matches(s, hits, i, m, now);
      int more = __builtin_popcount(set) - __builtin_popcount(best);
      if (more > 0 || (more == 0 && hits->hit[i].snr_db > *clear_db + ALIKE_DB)) {
        best = set;
        *clear_db = hits->hit[i].snr_db;
        for (size_t k = 0; k < s->markers; k++)
          found[k] = now[k];
      }
    }
  return best;
}

static bool is_whole(const CwStimulus *s, unsigned set)
{
  return set == (1u << s->markers) - 1;
}

/* Hits nearly as clear as the clearest: what a sweep leaves in the matched filter is far below. */
static size_t clear_hits(const Hits *hits, size_t *first)
{
  double top = -INFINITY;
  size_t count = 0;

  for (size_t i = 0; i < hits->count; i++)
    top = fmax(top, hits->hit[i].snr_db);
  for (size_t i = hits->count; i-- > 0;)
    if (hits->hit[i].snr_db > top - CLEAR_DB) {
      count++;
      *first = i;
    }
  return count;
}

/* Another track whose markers are all there and, where least_db is told, clearer than that. */
static bool holds_other(const CwStimulus *s, const Hits *hits, double least_db, CwStimulusKind *kind)
{
  for (int k = 0; k < CW_STIMULUS_KINDS; k++) {
    CwStimulus other = cw_stimulus_design((CwStimulusKind)k);
    int found[CW_STIMULUS_MOST_MARKERS];
    double clear_db;
    if (k != (int)s->kind && is_whole(&other, best_match(&other, hits, found, &clear_db)) &&
        clear_db > least_db) {
      *kind = (CwStimulusKind)k;
      return true;
    }
  }
  return false;
}

/* A single marker: which end of the track is missing, by what of the recording lies on either side of it. */
static CwPlaceVerdict judge_single(const CwStimulus *s, double at_seconds, double seconds)
{
  double length = s->marker_at[s->markers - 1] - s->marker_at[0];
  bool fits_before = at_seconds > length, fits_after = at_seconds + length < seconds;

  if (fits_before != fits_after)
    return CW_PLACE_BROKEN; /* the other marker should be in the recording */
  return at_seconds < 0.5 * seconds ? CW_PLACE_CUT_END : CW_PLACE_CUT_START;
}

/* Why the track expected is not there whole. */
static CwPlaceVerdict judge(const CwStimulus *s, const Hits *hits, unsigned set, double seconds,
                            CwStimulusKind *kind)
{
  size_t first = 0, clear = clear_hits(hits, &first);

  if (clear == 0)
    return CW_PLACE_NOTHING;
  if (holds_other(s, hits, -INFINITY, kind))
    return CW_PLACE_OTHER_TRACK;
  if (clear == 1)
    return judge_single(s, hits->hit[first].at_seconds, seconds);
  if (s->markers > 2 && clear <= (size_t)__builtin_popcount(set))
    return set & 1 ? CW_PLACE_CUT_END : CW_PLACE_CUT_START;
  return CW_PLACE_BROKEN;
}

/* Energy of the samples' slope: what fixes a time is how steep a signal is (the bound of Cramer and Rao), so
 * that a tweeter's lead tells it better than a woofer's. */
static double slope_energy(const double *samples, size_t frames, double first, double count)
{
  double sum = 0;
  for (long i = lrint(first); i < lrint(first + count); i++)
    sum += i >= 1 && i < (long)frames ? (samples[i] - samples[i - 1]) * (samples[i] - samples[i - 1]) : 0;
  return sum;
}

static double energy(const double *samples, size_t frames, double first, double count)
{
  double sum = 0;
  for (long i = lrint(first); i < lrint(first + count); i++)
    sum += i >= 0 && i < (long)frames ? samples[i] * samples[i] : 0;
  return sum;
}

/* The interval between two markers, averaged over the channels by how well each fixes it: the energy of its
 * markers' slope over the power of the silence before them. Returns the weight in all. */
static double measure_interval(const CwStimulus *s, const double *const *channel, size_t channels,
                               size_t frames, double rate_hz, double first, double last, double nominal,
                               double *interval)
{
  double sum = 0, weight = 0;
  double length = s->marker.seconds * rate_hz, quiet = 0.6 * CW_STIMULUS_EDGE_SECONDS * rate_hz;

  for (size_t c = 0; c < channels; c++) {
    double loud = energy(channel[c], frames, first * rate_hz, length) / length;
    double noise = energy(channel[c], frames, first * rate_hz - 1.2 * quiet, quiet) / quiet + 1e-16,
           ratio = loud / noise;
    double steep = slope_energy(channel[c], frames, first * rate_hz, length) / length / noise;
    double measured = cw_marker_interval(&s->marker, rate_hz, channel[c], frames, first, last,
                                         s->marker.seconds + WINDOW_MARGIN_SECONDS);
    if (ratio < 4 || fabs(nominal / measured - 1) * 1e6 > MOST_PPM)
      continue;
    sum += steep * measured;
    weight += steep;
  }
  *interval = weight > 0 ? sum / weight : last - first;
  return weight;
}

static void measure_clock(const CwStimulus *s, const double *const *channel, size_t channels, size_t frames,
                          double rate_hz, const CwMarkerHit *hit, const int *found, CwTrackPlace *place)
{
  double nominal = s->marker_at[s->markers - 1] - s->marker_at[0], first = hit[found[0]].at_seconds,
         last = hit[found[s->markers - 1]].at_seconds;

  place->steepness =
      measure_interval(s, channel, channels, frames, rate_hz, first, last, nominal, &place->interval_seconds);
  place->player_ppm = (nominal / place->interval_seconds - 1) * 1e6;
  place->player_rate_hz = rate_hz * place->interval_seconds / nominal;
  place->weight = (place->steepness + 1e-3) * nominal * nominal;
  if (s->markers > 2)
    measure_interval(s, channel, channels, frames, rate_hz, first, hit[found[1]].at_seconds,
                     s->marker_at[1] - s->marker_at[0], &place->middle_seconds);
}

/* Channels by falling power, without their offset. */
static void sort_by_power(const double *const *channel, size_t channels, size_t frames, size_t *order)
{
  double *power = cw_alloc_real(channels);

  for (size_t c = 0; c < channels; c++) {
    double sum = 0, square = 0;
    for (size_t i = 0; i < frames; i++) {
      sum += channel[c][i];
      square += channel[c][i] * channel[c][i];
    }
    power[c] = square - sum * sum / (double)frames;
    size_t k = c;
    for (; k > 0 && power[order[k - 1]] < power[c]; k--)
      order[k] = order[k - 1];
    order[k] = c;
  }
  cw_free(power);
}

CwTrackPlace cw_track_place(CwStimulusKind kind, const double *const *channel, size_t channels, size_t frames,
                            double rate_hz)
{
  CwStimulus s = cw_stimulus_design(kind);
  CwTrackPlace place = {.verdict = CW_PLACE_NOTHING, .kind = kind, .player_rate_hz = rate_hz};
  size_t *order = cw_alloc_bytes(channels * sizeof *order);

  sort_by_power(channel, channels, frames, order);
  for (size_t i = 0; i < channels && place.verdict != CW_PLACE_FOUND; i++) {
    int found[CW_STIMULUS_MOST_MARKERS] = {-1, -1, -1};
    Hits hits = find_hits(&s.marker, channel[order[i]], frames, rate_hz);
    double clear_db;
    unsigned set = best_match(&s, &hits, found, &clear_db);
    if (is_whole(&s, set) && holds_other(&s, &hits, clear_db + ALIKE_DB, &place.kind)) {
      place.verdict = CW_PLACE_OTHER_TRACK;
    } else if (is_whole(&s, set)) {
      place.verdict = CW_PLACE_FOUND;
      place.kind = kind;
      place.channel = order[i];
      measure_clock(&s, channel, channels, frames, rate_hz, hits.hit, found, &place);
      place.start_frame = hits.hit[found[0]].at_seconds * rate_hz - s.marker_at[0] * place.player_rate_hz;
    } else if (place.verdict == CW_PLACE_NOTHING) {
      place.verdict = judge(&s, &hits, set, (double)frames / rate_hz, &place.kind);
    }
  }
  cw_free(order);
  return place;
}
