/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "car-kit.h"
#include "signal/random.h"
#include <glib.h>
#include <math.h>

static void run_sections(const KitSpeaker *speaker, double *samples)
{
  for (int k = 0; k < 4 && speaker->section[k].frequency_hz > 0; k++) {
    CwCoefficients c;
    g_assert_true(cw_section_design(&speaker->section[k], KIT_RATE_HZ, &c));
    cw_cascade_run(&c, 1, samples, KIT_FRAMES);
  }
}

static void add_arrival(double *samples, double seconds, double level)
{
  samples[(size_t)(seconds * KIT_RATE_HZ)] += level;
}

CwCar *kit_car(const KitSpeaker *speakers, size_t count, size_t places, double level, unsigned seed)
{
  CwCar *car = cw_car_new(count, places, KIT_RATE_HZ, KIT_FRAMES);
  g_autofree double *arrivals = g_new(double, count *places), *samples = g_new(double, KIT_FRAMES);
  g_autofree float *impulse = g_new(float, KIT_FRAMES);

  for (size_t o = 0; o < count; o++) {
    const KitSpeaker *s = &speakers[o];
    CwRandom random = cw_random_new(seed + 100 * o);
    CwCarOutput *output = &car->output[o];
    output->number = (int)o + 1;
    output->way = s->way;
    output->side = s->side;
    output->role = s->role;
    output->lowest_hz = s->lowest_hz;
    output->mix[0] = s->side == CW_SIDE_LEFT ? 1 : s->side == CW_SIDE_RIGHT ? 0 : 0.5;
    output->mix[1] = s->side == CW_SIDE_RIGHT ? 1 : s->side == CW_SIDE_LEFT ? 0 : 0.5;
    for (size_t p = 0; p < places; p++) {
      double first = s->delay_seconds + (level > 0 ? 1e-4 * cw_random_uniform(&random) : 0);
      for (size_t i = 0; i < KIT_FRAMES; i++)
        samples[i] = 0;
      add_arrival(samples, first, 1);
      if (s->second_seconds > 0)
        add_arrival(samples, first + s->second_seconds, 1);
      for (int r = 0; r < 8 && level > 0; r++)
        add_arrival(samples, first + 1e-3 * (0.5 + 6 * cw_random_uniform(&random)),
                    level * (cw_random_uniform(&random) - 0.3));
      run_sections(s, samples);
      for (size_t i = 0; i < KIT_FRAMES; i++)
        impulse[i] = (float)samples[i];
      cw_car_add(car, o, p, impulse, KIT_FRAMES, 0);
      arrivals[o * places + p] = floor(first * KIT_RATE_HZ) / KIT_RATE_HZ;
    }
  }
  cw_car_settle(car, arrivals);
  return car;
}

CwCar *kit_front(size_t places, double level, unsigned seed)
{
  const KitSpeaker speakers[] = {
      {CW_WAY_HIGH,
       CW_SIDE_LEFT,
       2500,
       3e-3,
       {{CW_SECTION_HIGH_PASS, 1200, 0, 0.7}, {CW_SECTION_PEAKING, 5000, 4, 1.5}},
       0},
      {CW_WAY_HIGH,
       CW_SIDE_RIGHT,
       2500,
       4e-3,
       {{CW_SECTION_HIGH_PASS, 1200, 0, 0.7}, {CW_SECTION_PEAKING, 7000, -4, 1.5}},
       0},
      {CW_WAY_LOW,
       CW_SIDE_LEFT,
       60,
       3.2e-3,
       {{CW_SECTION_HIGH_PASS, 55, 0, 0.8},
        {CW_SECTION_LOW_PASS, 5000, 0, 0.7},
        {CW_SECTION_PEAKING, 300, 6, 2}},
       0},
      {CW_WAY_LOW,
       CW_SIDE_RIGHT,
       60,
       4.3e-3,
       {{CW_SECTION_HIGH_PASS, 55, 0, 0.8},
        {CW_SECTION_LOW_PASS, 5000, 0, 0.7},
        {CW_SECTION_PEAKING, 500, -5, 2}},
       0},
      {CW_WAY_SUB,
       CW_SIDE_BOTH,
       25,
       6e-3,
       {{CW_SECTION_HIGH_PASS, 28, 0, 0.7},
        {CW_SECTION_LOW_PASS, 400, 0, 0.7},
        {CW_SECTION_PEAKING, 45, 5, 3}},
       0},
  };
  return kit_car(speakers, G_N_ELEMENTS(speakers), places, level, seed);
}

CwProposalInput kit_input(const CwCar *car)
{
  return (CwProposalInput){.car = car, .limits = cw_limits_wide(KIT_RATE_HZ)};
}

double kit_sum_db(const CwCar *car, const CwProposal *proposal, size_t place, int sum, double hz)
{
  double bin_hz = car->rate_hz / (double)car->length, power = 0, low = hz * exp2(-1.0 / 12),
         high = hz * exp2(1.0 / 12);
  size_t first = (size_t)ceil(low / bin_hz), last = (size_t)floor(high / bin_hz);

  for (size_t k = first; k <= last; k++) {
    double at = (double)k * bin_hz;
    CwComplex whole = 0;
    for (size_t o = 0; o < car->outputs; o++) {
      CwComplex drive;
      double mix = sum == 2 ? car->output[o].mix[0] + car->output[o].mix[1] : car->output[o].mix[sum];
      cw_setting_response(&proposal->setting[o], KIT_RATE_HZ, &at, 1, &drive);
      whole += mix * drive * car->output[o].response[place][k] *
               cexp(-2 * M_PI * I * at * car->output[o].arrival_seconds);
    }
    power += creal(whole * conj(whole));
  }
  return 10 * log10(power / (double)(last - first + 1));
}
