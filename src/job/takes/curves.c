/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/takes/curves.h"
#include "job/sheet/microphone.h"
#include "job/takes/first_sounds.h"
#include "job/takes/positions.h"
#include "measuring/response_curves.h"
#include "measuring/take.h"
#include "signal/log_grid.h"
#include "signal/response/phase.h"
#include "signal/response/smoothing.h"
#include <math.h>

#define OWN_FRACTION 24
#define POINTS_PER_OCTAVE 48
#define POINTS 479
#define LOW_HZ 20.0
#define SPREAD_FRACTION 6

const char *const cw_curve_words[] = {"response", "phase", "group-delay", "excess-phase", "impulse",
                                      "step",     "decay", "first-sound", "spread",       NULL};

static const struct {
  const char *x_name, *y_name;
} names[CW_N_CURVES] = {
    [CW_CURVE_RESPONSE] = {"frequency_hz", "level_db_spl"},
    [CW_CURVE_PHASE] = {"frequency_hz", "phase_degrees"},
    [CW_CURVE_GROUP_DELAY] = {"frequency_hz", "group_delay_ms"},
    [CW_CURVE_EXCESS_PHASE] = {"frequency_hz", "excess_phase_degrees"},
    [CW_CURVE_IMPULSE] = {"time_ms", "pressure"},
    [CW_CURVE_STEP] = {"time_ms", "pressure"},
    [CW_CURVE_DECAY] = {"frequency_hz", "decay_s"},
    [CW_CURVE_FIRST_SOUND] = {"time_ms", "part_of_largest"},
    [CW_CURVE_SPREAD] = {"frequency_hz", "spread_db"},
};

/* A take with what is needed to work something out of it. */
typedef struct {
  CwRecord *take;
  CwSamples *samples;
  CwKeptImpulse impulse;
  int fraction;
  double window_seconds, spl, low_hz, high_hz; /* low to high: where the take knows its response */
} Source;

static CwCurve *new_curve(CwCurveKind kind, guint most)
{
  CwCurve *curve = g_new0(CwCurve, 1);

  *curve = (CwCurve){.kind = kind,
                     .x_name = names[kind].x_name,
                     .y_name = names[kind].y_name,
                     .x = g_new0(double, most + 1),
                     .y = g_new0(double, most + 1)};
  return curve;
}

void cw_curve_free(CwCurve *curve)
{
  if (!curve)
    return;
  g_free(curve->x);
  g_free(curve->y);
  g_free(curve);
}

static void add(CwCurve *curve, double x, double y)
{
  if (!isfinite(y))
    return;
  curve->x[curve->count] = x;
  curve->y[curve->count++] = y;
}

static void clear_source(Source *source)
{
  g_clear_pointer(&source->samples, cw_samples_free);
}

static gboolean open_source(CwProject *project, gint64 output, const char *position,
                            const CwCurveOptions *options, Source *source, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project),
           *take = cw_job_find_take(vehicle, output, position, CW_PURPOSE_TUNING);
  const CwNumbers *response = take ? cw_take_get_response(take) : NULL;
  double arrival = take ? cw_take_get_arrival_ms(take) : NAN;

  *source = (Source){.take = take,
                     .fraction = options && options->fraction ? options->fraction : OWN_FRACTION,
                     .window_seconds = options ? options->window_seconds : 0,
                     .spl = cw_job_spl_at_full_scale(vehicle, NULL)};
  if (!take || !response || response->n_rows < 2)
    return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "output %d at %s: no accepted take; measure it first",
                         (int)output, position);
  if (source->fraction < 1 || source->fraction > 48 || !(source->window_seconds >= 0))
    return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE,
                         "smoothing: 1/1 to 1/48 octave was expected, and a window of 0 s or more");
  source->samples = cw_project_get_samples(project, cw_take_get_blob(take), error);
  if (!source->samples)
    return FALSE;
  source->low_hz = cw_numbers_at(response, 0, 0);
  source->high_hz = cw_numbers_at(response, response->n_rows - 1, 0);
  source->impulse =
      (CwKeptImpulse){source->samples->values, source->samples->n_frames, source->samples->rate_hz,
                      1e-3 * cw_take_get_blob_start_ms(take), isnan(arrival) ? 0 : 1e-3 * arrival};
  return TRUE;
}

/* The take's own points tell where noise hides the response, inside of its band too. */
static gboolean is_known(const Source *source, double hz)
{
  const CwNumbers *response = cw_take_get_response(source->take);
  double step = log2(hz / source->low_hz) * POINTS_PER_OCTAVE;
  guint row = step < 0 ? 0 : (guint)lrint(step);

  return hz >= source->low_hz * 0.999 && hz <= source->high_hz * 1.001 && row < response->n_rows &&
         !isnan(cw_numbers_at(response, row, 1));
}

static void fill_response(const Source *source, const CwComplex *spectrum, size_t length, CwCurve *curve)
{
  size_t bins = length / 2 + 1;
  double *power = cw_alloc_real(bins), hz[POINTS], mean[POINTS];

  for (size_t i = 0; i < bins; i++)
    power[i] = creal(spectrum[i]) * creal(spectrum[i]) + cimag(spectrum[i]) * cimag(spectrum[i]);
  cw_log_grid_fill(LOW_HZ, POINTS_PER_OCTAVE, POINTS, hz);
  cw_smooth_power(power, bins, source->impulse.rate_hz / (double)length, 1.0 / source->fraction, hz, POINTS,
                  mean);
  for (size_t i = 0; i < POINTS; i++)
    if (is_known(source, hz[i]))
      add(curve, hz[i], 10 * log10(mean[i]) + source->spl);
  cw_free(power);
}

/* Phase in degrees at the points, from unwrapped bins; whole turns are chosen so that the band's middle lies
 * within half a turn of 0. */
static void fill_phase(const Source *source, double *phase, size_t length, CwCurve *curve)
{
  double bin_hz = source->impulse.rate_hz / (double)length, hz[POINTS], turns;
  size_t middle = (size_t)lrint(sqrt(source->low_hz * source->high_hz) / bin_hz);

  turns = rint(phase[middle] / (2 * M_PI));
  cw_log_grid_fill(LOW_HZ, POINTS_PER_OCTAVE, POINTS, hz);
  for (size_t i = 0; i < POINTS; i++) {
    double at = hz[i] / bin_hz;
    size_t bin = (size_t)at;
    if (is_known(source, hz[i]) && bin + 1 <= length / 2)
      add(curve, hz[i],
          (phase[bin] + (at - (double)bin) * (phase[bin + 1] - phase[bin]) - 2 * M_PI * turns) * 180 / M_PI);
  }
}

/* What the take does not know is extended level, so that minimum phase is not led by noise. */
static void hold_ends(const Source *source, CwComplex *spectrum, size_t length)
{
  double bin_hz = source->impulse.rate_hz / (double)length;
  size_t low = (size_t)ceil(source->low_hz / bin_hz), high = (size_t)floor(source->high_hz / bin_hz);

  for (size_t i = 0; i <= length / 2; i++) {
    double hold = i < low    ? cabs(spectrum[low])
                  : i > high ? cabs(spectrum[high])
                             : fmax(cabs(spectrum[i]), 1e-12);
    double own = cabs(spectrum[i]);
    spectrum[i] = own > 0 ? spectrum[i] / own * hold : hold;
  }
}

static void fill_spectral(const Source *source, CwCurve *curve)
{
  size_t length;
  CwComplex *spectrum = cw_kept_impulse_spectrum(&source->impulse, source->window_seconds, &length);
  double *phase = cw_alloc_real(length / 2 + 1), hz[POINTS], seconds[POINTS];

  if (curve->kind == CW_CURVE_RESPONSE) {
    fill_response(source, spectrum, length, curve);
  } else if (curve->kind == CW_CURVE_GROUP_DELAY) {
    cw_log_grid_fill(LOW_HZ, POINTS_PER_OCTAVE, POINTS, hz);
    cw_spectrum_group_delay(spectrum, length, source->impulse.rate_hz, source->fraction, hz, POINTS, seconds);
    for (size_t i = 0; i < POINTS; i++)
      if (is_known(source, hz[i]))
        add(curve, hz[i], 1e3 * (seconds[i] + source->impulse.arrival_seconds));
  } else {
    if (curve->kind == CW_CURVE_EXCESS_PHASE) {
      hold_ends(source, spectrum, length);
      cw_excess_phase(spectrum, length, phase);
    } else {
      cw_phase_of(spectrum, length / 2 + 1, phase);
    }
    fill_phase(source, phase, length, curve);
  }
  cw_free(phase);
  cw_free(spectrum);
}

static void fill_in_time(const Source *source, CwCurve *curve)
{
  double sum = 0;

  for (gsize i = 0; i < source->samples->n_frames; i++) {
    double value = (double)source->samples->values[i];
    sum += value;
    add(curve, 1e3 * (source->impulse.start_seconds + (double)i / source->impulse.rate_hz),
        curve->kind == CW_CURVE_STEP ? sum : value);
  }
}

static CwCurve *first_sound_of(CwProject *project, CwRecord *take, GError **error)
{
  CwTakeSource source;
  CwWhitened white;
  CwCurve *curve = NULL;

  if (cw_take_source_read(project, take, &source, error) && cw_whiten(&source.edges, &white)) {
    gsize count = (gsize)((double)source.edges.frames / source.edges.rate_hz * white.rate_hz);
    double top = 0;
    curve = new_curve(CW_CURVE_FIRST_SOUND, (guint)count);
    for (gsize i = 0; i < count; i++)
      top = fmax(top, fabs(white.response[i]));
    for (gsize i = 0; i < count && top > 0; i++)
      add(curve, cw_take_get_blob_start_ms(take) + 1e3 * (double)i / white.rate_hz, white.response[i] / top);
    cw_whitened_clear(&white);
  } else if (source.samples) {
    cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "output %d at %s: no band of the take is clear of noise",
                  (int)cw_take_get_output(take), cw_take_get_position(take));
  }
  cw_take_source_clear(&source);
  return curve;
}

static void fill_decay(const Source *source, CwCurve *curve)
{
  CwBand bands[16];
  size_t count = cw_bands_within(1, 30, 17000, bands, G_N_ELEMENTS(bands));

  for (size_t i = 0; i < count; i++)
    if (bands[i].low_hz >= source->low_hz && bands[i].high_hz <= source->high_hz)
      add(curve, bands[i].centre_hz, cw_kept_impulse_decay_seconds(&source->impulse, &bands[i]));
}

static guint most_points(const Source *source, CwCurveKind kind)
{
  return kind == CW_CURVE_IMPULSE || kind == CW_CURVE_STEP ? (guint)source->samples->n_frames : POINTS;
}

/* The standard deviation between positions, at each point that at least two of them know. */
static CwCurve *spread_of(CwProject *project, gint64 output, const char *seat, const CwCurveOptions *options,
                          GError **error)
{
  g_auto(GStrv) positions = cw_job_positions(cw_project_get_vehicle(project), seat);
  CwCurveOptions own = {options && options->fraction ? options->fraction : SPREAD_FRACTION,
                        options ? options->window_seconds : 0};
  g_autofree double *sum = g_new0(double, 3 * POINTS);
  guint found = 0;

  for (guint p = 0; positions[p]; p++) {
    g_autoptr(CwCurve) one = cw_job_curve(project, output, positions[p], CW_CURVE_RESPONSE, &own, NULL);
    found += one != NULL;
    for (guint i = 0; one && i < one->count; i++) {
      guint at = (guint)lrint(log2(one->x[i] / LOW_HZ) * POINTS_PER_OCTAVE);
      sum[3 * at]++;
      sum[3 * at + 1] += one->y[i];
      sum[3 * at + 2] += one->y[i] * one->y[i];
    }
  }
  if (found < 2) {
    cw_job_refuse(error, CW_JOB_ERROR_VEHICLE,
                  "output %d at %s: accepted takes at two positions are needed to see a spread", (int)output,
                  seat);
    return NULL;
  }
  CwCurve *curve = new_curve(CW_CURVE_SPREAD, POINTS);
  for (guint i = 0; i < POINTS; i++) {
    double n = sum[3 * i], mean = sum[3 * i + 1] / n;
    if (n >= 2)
      add(curve, LOW_HZ * exp2((double)i / POINTS_PER_OCTAVE),
          sqrt(fmax(sum[3 * i + 2] - n * mean * mean, 0) / (n - 1)));
  }
  return curve;
}

CwCurve *cw_job_curve(CwProject *project, gint64 output, const char *position, CwCurveKind kind,
                      const CwCurveOptions *options, GError **error)
{
  Source source;
  CwCurve *curve;

  if (kind == CW_CURVE_SPREAD)
    return spread_of(project, output, position, options, error);
  if (!open_source(project, output, position, options, &source, error)) {
    clear_source(&source);
    return NULL;
  }
  if (kind == CW_CURVE_FIRST_SOUND) {
    curve = first_sound_of(project, source.take, error);
    clear_source(&source);
    return curve;
  }
  curve = new_curve(kind, most_points(&source, kind));
  if (kind == CW_CURVE_IMPULSE || kind == CW_CURVE_STEP)
    fill_in_time(&source, curve);
  else if (kind == CW_CURVE_DECAY)
    fill_decay(&source, curve);
  else
    fill_spectral(&source, curve);
  clear_source(&source);
  return curve;
}

char *cw_curve_to_csv(const CwCurve *curve)
{
  GString *text = g_string_new(NULL);
  char x[G_ASCII_DTOSTR_BUF_SIZE], y[G_ASCII_DTOSTR_BUF_SIZE];

  g_string_append_printf(text, "%s,%s\r\n", curve->x_name, curve->y_name);
  for (guint i = 0; i < curve->count; i++)
    g_string_append_printf(text, "%s,%s\r\n", g_ascii_formatd(x, sizeof x, "%.8g", curve->x[i]),
                           g_ascii_formatd(y, sizeof y, "%.6g", curve->y[i]));
  return g_string_free(text, FALSE);
}
