/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "simulator/practice_cabin.h"
#include "signal/fft.h"
#include "signal/kaiser.h"

#include <math.h>
#include <string.h>

/* Images further than this are not worth their time: they have met some thirty walls. */
#define REACH_S 0.09
/* The last part of the reach fades, so that the end of the response is no edge. */
#define FADE_FROM 0.75
#define QUIETEST 1e-5
/* An impulse between two samples is a windowed sinc of this many, from a table of so many places between
 * samples. */
#define TAPS 64
#define PHASES 512

static const double band_hz[CW_PRACTICE_BANDS] = {63, 125, 250, 500, 1000, 2000, 4000, 8000, 16000};

static double kernel[PHASES + 2][TAPS];

static void make_kernel(void)
{
  const double beta = 9;
  for (int phase = 0; phase < PHASES + 2; phase++) {
    for (int tap = 0; tap < TAPS; tap++) {
      double x = tap - (TAPS / 2 - 1) - (double)phase / PHASES;
      kernel[phase][tap] =
          cw_kaiser_window(2 * x / TAPS, beta) * (fabs(x) < 1e-12 ? 1 : sin(G_PI * x) / (G_PI * x));
    }
  }
}

static void prepare_kernel(void)
{
  static gsize done = 0;
  if (g_once_init_enter(&done)) {
    make_kernel();
    g_once_init_leave(&done, 1);
  }
}

/* What the walls and the way leave in each band, as natural logarithms. */
typedef struct {
  double wall[CW_SURFACES][CW_PRACTICE_BANDS];
  double metre[CW_PRACTICE_BANDS];
} Losses;

static void find_losses(const CwPracticeCabin *cabin, Losses *losses)
{
  for (int band = 0; band < CW_PRACTICE_BANDS; band++) {
    for (int surface = 0; surface < CW_SURFACES; surface++)
      losses->wall[surface][band] = 0.5 * log(1 - cabin->absorption[surface][band]);
    losses->metre[band] = -cabin->damping_db_per_m[band] * G_LN10 / 20;
  }
}

/* Beaming: pressure towards cosine, 1 on the axis. The exponent grows with the cone's size in wavelengths. */
static double beam(double cosine, double radius_m, double hz)
{
  double exponent = MIN(G_PI * hz * radius_m / CW_SPEED_OF_SOUND_M_PER_S, 3);
  return MAX(pow(0.5 + 0.5 * cosine, exponent), 0.03);
}

typedef struct {
  const CwPracticeSource *source;
  const Losses *losses;
  double rate_hz;
  gsize length;
  double *bands; /* CW_PRACTICE_BANDS rows of length */
} Gather;

/* Adds one image: `away` is the way from it to the microphone, `aim` its (mirrored) unit direction. */
static void add_image(const Gather *gather, const double away[3], const double aim[3],
                      const int met[CW_SURFACES])
{
  double metres = sqrt(away[0] * away[0] + away[1] * away[1] + away[2] * away[2]);
  double at = metres / CW_SPEED_OF_SOUND_M_PER_S * gather->rate_hz;
  double late = (metres / CW_SPEED_OF_SOUND_M_PER_S / REACH_S - FADE_FROM) / (1 - FADE_FROM);
  double fade = late <= 0 ? 1 : late >= 1 ? 0 : 0.5 + 0.5 * cos(G_PI * late);
  double cosine = (aim[0] * away[0] + aim[1] * away[1] + aim[2] * away[2]) / MAX(metres, 1e-6);

  double gain[CW_PRACTICE_BANDS], most = 0;
  for (int band = 0; band < CW_PRACTICE_BANDS; band++) {
    double loss = 0;
    for (int surface = 0; surface < CW_SURFACES; surface++)
      loss += met[surface] * gather->losses->wall[surface][band];
    gain[band] = fade / MAX(metres, 0.02) * exp(loss + metres * gather->losses->metre[band]);
    if (gather->source->radius_cm > 0)
      gain[band] *= beam(cosine, gather->source->radius_cm / 100, band_hz[band]);
    most = MAX(most, gain[band]);
  }
  if (most < QUIETEST)
    return;

  gssize first = (gssize)floor(at) - (TAPS / 2 - 1);
  double between = (at - floor(at)) * PHASES;
  int phase = (int)between;
  double part = between - phase;
  int from = first < 0 ? (int)-first : 0;
  int to = (gssize)gather->length - first < TAPS ? (int)MAX((gssize)gather->length - first, 0) : TAPS;
  double tap[TAPS];
  for (int i = 0; i < TAPS; i++)
    tap[i] = kernel[phase][i] + part * (kernel[phase + 1][i] - kernel[phase][i]);
  for (int band = 0; band < CW_PRACTICE_BANDS; band++) {
    double *row = gather->bands + (gsize)band * gather->length + first;
    for (int i = from; i < to; i++)
      row[i] += gain[band] * tap[i];
  }
}

/* Along one axis: image `n`, mirrored or not, lies at `place` and has met the low wall and the high wall so
 * often. */
static double image_place(double at, double size, int n, int mirrored)
{
  return (mirrored ? -at : at) + 2 * n * size;
}

static void add_images(const Gather *gather, const CwPracticeCabin *cabin, const CwPracticePoint *microphone)
{
  const double reach = REACH_S * CW_SPEED_OF_SOUND_M_PER_S;
  const double size[3] = {cabin->width_m, cabin->length_m, cabin->height_m};
  const CwPracticeSource *source = gather->source;
  const double at[3] = {source->at.x_m, source->at.y_m, source->at.z_m};
  const double to[3] = {microphone->x_m, microphone->y_m, microphone->z_m};
  const double aim_length = sqrt(source->aim.x_m * source->aim.x_m + source->aim.y_m * source->aim.y_m +
                                 source->aim.z_m * source->aim.z_m);
  const double scale = aim_length > 0 ? 1 / aim_length : 0;
  const double aim[3] = {source->aim.x_m * scale, source->aim.y_m * scale, source->aim.z_m * scale};
  int order[3];
  for (int axis = 0; axis < 3; axis++)
    order[axis] = (int)ceil(reach / (2 * size[axis])) + 1;

  for (int nx = -order[0]; nx <= order[0]; nx++)
    for (int ny = -order[1]; ny <= order[1]; ny++)
      for (int nz = -order[2]; nz <= order[2]; nz++)
        for (int mirror = 0; mirror < 8; mirror++) {
          const int n[3] = {nx, ny, nz}, q[3] = {mirror & 1, mirror >> 1 & 1, mirror >> 2};
          double away[3], its_aim[3];
          for (int axis = 0; axis < 3; axis++) {
            away[axis] = to[axis] - image_place(at[axis], size[axis], n[axis], q[axis]);
            its_aim[axis] = q[axis] ? -aim[axis] : aim[axis];
          }
          if (away[0] * away[0] + away[1] * away[1] + away[2] * away[2] > reach * reach)
            continue;
          const int met[CW_SURFACES] = {[CW_SURFACE_SIDES] = abs(nx - q[0]) + abs(nx),
                                        [CW_SURFACE_ENDS] = abs(ny - q[1]) + abs(ny),
                                        [CW_SURFACE_FLOOR] = abs(nz - q[2]),
                                        [CW_SURFACE_ROOF] = abs(nz)};
          add_image(gather, away, its_aim, met);
        }
}

/* The weight of a band at a frequency: raised cosines in octaves that add up to one; the end bands go on for
 * ever. */
static double band_weight(int band, double hz)
{
  double octaves = hz > 0 ? log2(hz / band_hz[band]) : -100;
  if ((band == 0 && octaves < 0) || (band == CW_PRACTICE_BANDS - 1 && octaves > 0))
    return 1;
  return fabs(octaves) < 1 ? 0.5 + 0.5 * cos(G_PI * octaves) : 0;
}

/* Joins the bands' responses into one. */
static void join_bands(const double *bands, double rate_hz, gsize length, double *response)
{
  gsize size = cw_fft_good_length(2 * length), bins = size / 2 + 1;
  const CwFft *fft = cw_fft_get(size);
  double *padded = cw_alloc_real(size);
  CwComplex *bin = cw_alloc_complex(bins), *sum = cw_alloc_complex(bins);
  for (int band = 0; band < CW_PRACTICE_BANDS; band++) {
    memset(padded, 0, size * sizeof *padded);
    memcpy(padded, bands + (gsize)band * length, length * sizeof *padded);
    cw_fft_forward(fft, padded, bin);
    for (gsize k = 0; k < bins; k++)
      sum[k] += band_weight(band, (double)k * rate_hz / (double)size) * bin[k];
  }
  cw_fft_inverse(fft, sum, padded);
  memcpy(response, padded, length * sizeof *response);
  cw_free(padded);
  cw_free(bin);
  cw_free(sum);
}

void cw_practice_impulse(const CwPracticeCabin *cabin, const CwPracticeSource *source,
                         const CwPracticePoint *microphone, double rate_hz, gsize length, double *response)
{
  g_return_if_fail(cabin != NULL && source != NULL && microphone != NULL && rate_hz > 0 && response != NULL);
  prepare_kernel();
  Losses losses;
  find_losses(cabin, &losses);
  Gather gather = {source, &losses, rate_hz, length, cw_alloc_real(CW_PRACTICE_BANDS * length)};
  add_images(&gather, cabin, microphone);
  join_bands(gather.bands, rate_hz, length, response);
  cw_free(gather.bands);
}
