/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One channel fitted to a flat target by the program's own search. Prints, as JSON, the data, the sections
 * found and the seconds that it took, for bench-fit-peer.py to fit the same data by general-purpose
 * optimisers. */
#include "../tuning/car-kit.h"
#include <math.h>
#include <stdio.h>
#include <time.h>

enum { SECTIONS = 8 };

static CwCar *make_car(void)
{
  const KitSpeaker speaker = {CW_WAY_FULL,
                              CW_SIDE_BOTH,
                              40,
                              2e-3,
                              {{CW_SECTION_HIGH_PASS, 45, 0, 0.7},
                               {CW_SECTION_PEAKING, 180, 7, 2.5},
                               {CW_SECTION_PEAKING, 900, -6, 1.2},
                               {CW_SECTION_PEAKING, 4500, 5, 3}},
                              0};
  return kit_car(&speaker, 1, 4, 0.5, 77);
}

static CwProposal *last;

/* The processor's own time, as the peer's is taken. */
static double best_seconds(const CwProposalInput *input, int runs)
{
  double best = INFINITY;

  for (int i = 0; i < runs; i++) {
    clock_t start = clock();
    cw_proposal_free(last);
    last = cw_proposal_make(input);
    best = fmin(best, (double)(clock() - start) / CLOCKS_PER_SEC);
  }
  return best;
}

static void print_row(const char *name, const double *values, size_t count, const char *end)
{
  printf("\"%s\":[", name);
  for (size_t i = 0; i < count; i++)
    printf("%s%.17g", i ? "," : "", values[i]);
  printf("]%s", end);
}

int main(void)
{
  CwCar *car = make_car();
  CwProposalInput input = kit_input(car);
  input.limits.sections = SECTIONS;
  double seconds = best_seconds(&input, 5), power[400], drive[400], section[3 * SECTIONS];
  CwBandMatrices *bands = cw_band_matrices_new(car, last->low_hz, last->high_hz * 1.001, 24);
  const CwOutputSetting *s = &last->setting[0];
  CwComplex response[400];

  cw_setting_crossover_response(s, KIT_RATE_HZ, bands->hz, bands->bands, response);
  for (size_t b = 0; b < bands->bands; b++) {
    power[b] = creal(bands->cross[b]);
    drive[b] = creal(response[b] * conj(response[b]));
  }
  for (size_t k = 0; k < s->sections; k++) {
    section[3 * k] = s->section[k].frequency_hz;
    section[3 * k + 1] = s->section[k].gain_db;
    section[3 * k + 2] = s->section[k].q;
  }
  printf("{\"seconds\":%.6g,\"rate_hz\":%g,\"sections\":%d,", seconds, KIT_RATE_HZ, SECTIONS);
  print_row("hz", bands->hz, bands->bands, ",");
  print_row("power", power, bands->bands, ",");
  print_row("drive", drive, bands->bands, ",");
  print_row("found", section, 3 * s->sections, "}\n");
  cw_band_matrices_free(bands);
  cw_proposal_free(last);
  cw_car_free(car);
  return 0;
}
