/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/proof/proof_private.h"
#include "signal/sort.h"

#include "job/findings/review.h"
#include "job/takes/positions.h"
#include "job/tuning/predict.h"
#include "signal/fft.h"
#include "signal/response/smoothing.h"
#include "vehicle/kinds/kinds.h"
#include <glib/gi18n-lib.h>
#include <math.h>

#define N CW_PREDICTION_POINTS
#define HALF_THIRD 8 /* points either side that make a third of an octave */
#define LOW_HZ 30.0  /* between these the two are compared, ... */
#define HIGH_HZ 16000.0
#define HIGH_BOTH_HZ                                                                                         \
  5000.0 /* above it a centimetre of the microphone's place, a radian there, decides how left and right add  \
          */
#define RANGE_DB 25.0 /* ... where the prediction is not further below its top */
#define LEAST_SPREAD_DB 0.5
#define ALONE_SPREAD_DB 2.0 /* of a single position, which does not tell its spread */
#define HALF_OCTAVE                                                                                          \
  24 /* points either side over which the spread is averaged: few positions tell little of it at one         \
        frequency */
#define MOST_SPREADS 1.5 /* that a proof which holds is off by, root mean square; bars of our own */
#define MOST_DB 3.0      /* and no third of an octave further than this, or than three spreads */

/* One side at one seat. */
typedef struct {
  guint places;
  double predicted[N], measured[N], spread[N], difference[N]; /* dB; difference NAN where it does not count */
} Side;

/* Mean over a third of an octave of powers given in dB. */
static void smooth_thirds(const double *db, double *smoothed)
{
  for (int i = 0; i < N; i++) {
    double sum = 0;
    int first = MAX(i - HALF_THIRD, 0), last = MIN(i + HALF_THIRD, N - 1);
    for (int k = first; k <= last; k++)
      sum += pow(10, db[k] / 10);
    smoothed[i] = 10 * log10(sum / (last - first + 1) + 1e-30);
  }
}

/* A kept response as power over thirds of an octave at the prediction's frequencies. */
static void read_power(const CwSamples *samples, const double *hz, double *power)
{
  gsize length = cw_fft_good_length(samples->n_frames), bins = length / 2 + 1;
  double *padded = cw_alloc_real(length), *whole = cw_alloc_real(bins);
  CwComplex *spectrum = cw_alloc_complex(bins);
  for (gsize i = 0; i < samples->n_frames; i++)
    padded[i] = samples->values[i];
  cw_fft_forward(cw_fft_get(length), padded, spectrum);
  for (gsize i = 0; i < bins; i++)
    whole[i] = creal(spectrum[i]) * creal(spectrum[i]) + cimag(spectrum[i]) * cimag(spectrum[i]);
  cw_smooth_power(whole, bins, samples->rate_hz / (double)length, 1.0 / 3, hz, N, power);
  cw_free(padded);
  cw_free(whole);
  cw_free(spectrum);
}

/* Power mean over the positions that were measured; FALSE with error if one cannot be read. */
static gboolean read_side(CwProject *project, const char *settings, CwSum sum, char **positions,
                          const double *hz, Side *side, GError **error)
{
  double power[N], total[N] = {0};
  for (guint p = 0; positions[p]; p++) {
    g_autofree char *name = cw_proof_samples_name(settings, sum, positions[p]);
    if (!cw_project_has_samples(project, name))
      continue;
    g_autoptr(CwSamples) samples = cw_project_get_samples(project, name, error);
    if (!samples)
      return FALSE;
    read_power(samples, hz, power);
    side->places++;
    for (int i = 0; i < N; i++)
      total[i] += power[i];
  }
  for (int i = 0; i < N && side->places; i++)
    side->measured[i] = 10 * log10(total[i] / side->places + 1e-30);
  return TRUE;
}

/* What is predicted, and by how much it is to be missed when a microphone stands elsewhere around the head:
 * the deviation of the mean over as many places as were measured, from the variance between the predicted
 * ones. It is the prediction's, so that settings which are wrong do not excuse themselves by a spread of
 * their own. */
static void predict_side(CwPrediction *prediction, CwSum sum, Side *side)
{
  double db[N], place_db[N], sums[N] = {0}, variance[N] = {0};
  gsize places = cw_prediction_places(prediction);
  cw_prediction_seat_db(prediction, sum, db);
  smooth_thirds(db, side->predicted);
  for (gsize p = 0; p < places; p++) {
    const double *real, *imaginary;
    cw_prediction_at_place(prediction, sum, p, &real, &imaginary);
    for (int i = 0; i < N; i++)
      db[i] = 10 * log10(real[i] * real[i] + imaginary[i] * imaginary[i] + 1e-30);
    smooth_thirds(db, place_db);
    for (int i = 0; i < N; i++) {
      sums[i] += place_db[i];
      variance[i] += place_db[i] * place_db[i];
    }
  }
  for (int i = 0; i < N && places > 1; i++)
    variance[i] = fmax((variance[i] - sums[i] * sums[i] / (double)places) / (double)(places - 1), 0);
  for (int i = 0; i < N; i++) {
    double mean = 0;
    int first = MAX(i - HALF_OCTAVE, 0), last = MIN(i + HALF_OCTAVE, N - 1);
    for (int k = first; k <= last; k++)
      mean += variance[k] / (last - first + 1);
    side->spread[i] = places > 1 ? fmax(sqrt(mean / MAX(side->places, 1)), LEAST_SPREAD_DB) : ALONE_SPREAD_DB;
  }
}

/* The level between the source that played and full scale is no fault of the tune: the median over all sides
 * is taken off, so that a side that is off against the others still shows. */
static void take_level_off(Side *sides, const double *hz)
{
  g_autofree double *all = g_new(double, CW_SUMS *N);
  guint count = 0;
  for (int s = 0; s < CW_SUMS; s++) {
    double top = -INFINITY;
    for (int i = 0; i < N; i++)
      top = fmax(top, sides[s].predicted[i]);
    for (int i = 0; i < N; i++) {
      gboolean counts = sides[s].places && hz[i] >= LOW_HZ &&
                        hz[i] <= (s == CW_SUM_BOTH ? HIGH_BOTH_HZ : HIGH_HZ) &&
                        sides[s].predicted[i] > top - RANGE_DB;
      sides[s].difference[i] = counts ? sides[s].measured[i] - sides[s].predicted[i] : NAN;
      if (counts)
        all[count++] = sides[s].difference[i];
    }
  }
  cw_sort_rising(all, count);
  double offset = count ? all[count / 2] : 0;
  for (int s = 0; s < CW_SUMS; s++)
    for (int i = 0; i < N; i++) {
      sides[s].difference[i] -= offset;
      sides[s].predicted[i] += offset;
    }
}

static CwRecord *make_row(CwRecord *vehicle, const char *settings, const char *seat, CwSum sum)
{
  static const char *const words[CW_SUMS] = {N_("left alone"), N_("right alone"), N_("both sides")};
  g_autofree char *subject = g_strdup_printf("%s, %s", seat, _(words[sum]));
  CwList *rows = cw_vehicle_get_proof(vehicle);
  g_autoptr(CwRecord) made = cw_record_new(cw_proof_row_get_type());
  cw_proof_row_set_subject(made, subject);
  cw_proof_row_set_settings(made, settings);
  cw_list_append(rows, made);
  return cw_list_get(rows, cw_list_get_length(rows) - 1);
}

static void write_row(CwRecord *row, const Side *side, const double *hz)
{
  double square = 0, spreads = 0, worst_db = 0, worst_hz = NAN, worst_excess = -INFINITY;
  guint count = 0;
  gboolean within = TRUE;
  for (int i = 0; i < N; i++) {
    double difference = side->difference[i], excess = fabs(difference) - fmax(MOST_DB, 3 * side->spread[i]);
    if (isnan(difference))
      continue;
    square += difference * difference;
    spreads += pow(difference / side->spread[i], 2);
    count++;
    within = within && excess <= 0;
    if (excess > worst_excess) {
      worst_excess = excess;
      worst_db = difference;
      worst_hz = hz[i];
    }
  }
  double rms_db = count ? sqrt(square / count) : NAN;
  cw_proof_row_set_agrees(row, count && within && sqrt(spreads / count) <= MOST_SPREADS);
  cw_proof_row_set_rms_db(row, rms_db);
  cw_proof_row_set_worst_db(row, worst_db);
  cw_proof_row_set_worst_hz(row, worst_hz);
  cw_proof_row_take_predicted(row, cw_numbers_new_curve(N, hz, side->predicted));
  cw_proof_row_take_measured(row, cw_numbers_new_curve(N, hz, side->measured));
  cw_proof_row_take_spread(row, cw_numbers_new_curve(N, hz, side->spread));
}

static gboolean judge_seat(CwProject *project, const char *settings, const char *seat, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_auto(GStrv) positions = cw_job_positions(vehicle, seat);
  CwPrediction *prediction = cw_job_predict(project, seat, error);
  if (!prediction)
    return FALSE;
  const double *hz = cw_prediction_hz(prediction);
  g_autofree Side *sides = g_new0(Side, CW_SUMS);
  gboolean read = TRUE;
  for (int sum = 0; sum < CW_SUMS && read; sum++) {
    read = read_side(project, settings, (CwSum)sum, positions, hz, &sides[sum], error);
    predict_side(prediction, (CwSum)sum, &sides[sum]);
  }
  if (read)
    take_level_off(sides, hz);
  for (int sum = 0; sum < CW_SUMS && read; sum++)
    if (sides[sum].places)
      write_row(make_row(vehicle, settings, seat, (CwSum)sum), &sides[sum], hz);
  cw_prediction_free(prediction);
  return read;
}

/* Whether anything of a seat has been measured. */
static gboolean has_measurements(CwProject *project, const char *settings, const char *seat)
{
  g_auto(GStrv) positions = cw_job_positions(cw_project_get_vehicle(project), seat);
  for (guint p = 0; positions[p]; p++)
    for (int sum = 0; sum < CW_SUMS; sum++) {
      g_autofree char *name = cw_proof_samples_name(settings, (CwSum)sum, positions[p]);
      if (cw_project_has_samples(project, name))
        return TRUE;
    }
  return FALSE;
}

static void find_differences(CwRecord *vehicle)
{
  CwList *rows = cw_vehicle_get_proof(vehicle);
  cw_vehicle_clear_findings(vehicle, CW_STAGE_PROOF);
  for (guint i = 0; i < cw_list_get_length(rows); i++) {
    CwRecord *row = cw_list_get(rows, i);
    if (cw_proof_row_get_agrees(row))
      continue;
    g_autofree char *text =
        g_strdup_printf(_("%s: the car does not do what was predicted."), cw_proof_row_get_subject(row));
    g_autofree char *evidence = g_strdup_printf(
        _("It differs by %.1f dB on the mean, and most near %.0f Hz, by %+.1f dB."),
        cw_proof_row_get_rms_db(row), cw_proof_row_get_worst_hz(row), cw_proof_row_get_worst_db(row));
    cw_job_add_finding(vehicle, "proof-differs", CW_SEVERITY_ATTEND, CW_STAGE_PROOF, 0, text, evidence,
                       _("Compare the settings in the processor with the table: gain, polarity, delay and "
                         "crossovers of the speakers that play there; then measure again."));
  }
}

gboolean cw_job_judge_proof(CwProject *project, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  const char *const *seats = cw_vehicle_get_seats(vehicle);
  g_autofree char *settings = cw_proof_settings(vehicle, error);
  if (!settings)
    return FALSE;
  cw_list_clear(cw_vehicle_get_proof(vehicle));
  for (guint s = 0; seats[s]; s++)
    if (has_measurements(project, settings, seats[s]) && !judge_seat(project, settings, seats[s], error))
      return FALSE;
  find_differences(vehicle);
  cw_job_review(vehicle);
  return TRUE;
}
