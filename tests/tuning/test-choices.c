/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a technician would sign, as properties over made-up cars, processors, budgets and holds: no source but
 * the words of the headers. The counts are written here anew, from the filters' frequencies and their
 * designed responses. */
#include "car-kit.h"
#include "signal/random.h"

#include <glib.h>
#include <math.h>
#include <string.h>

#define PER_OCTAVE 24

static double sections_db(const CwOutputSetting *s, double hz)
{
  double db = 0;
  for (size_t k = 0; k < s->sections; k++) {
    CwCoefficients c;
    g_assert_true(cw_section_design(&s->section[k], KIT_RATE_HZ, &c));
    db += 20 * log10(cabs(cw_coefficients_response(&c, hz, KIT_RATE_HZ)));
  }
  return db;
}

static double chain_db(const CwOutputSetting *s, double hz)
{
  CwComplex response;
  cw_setting_response(s, KIT_RATE_HZ, &hz, 1, &response);
  return 20 * log10(cabs(response) + 1e-12);
}

static bool is_eq(const CwSection *s)
{
  return s->kind != CW_SECTION_ALL_PASS;
}

static void check_neighbours(const CwOutputSetting *s, size_t fixed)
{
  for (size_t i = 0; i < s->sections; i++)
    for (size_t k = 0; k < i; k++) {
      const CwSection *a = &s->section[i], *b = &s->section[k];
      if (i < fixed || !is_eq(a) || !is_eq(b)) /* two that the hands placed may stand as they like */
        continue;
      g_assert_cmpfloat(fabs(log2(a->frequency_hz / b->frequency_hz)), >, 1.0 / 3);
    }
}

/* From the second on that a hold did not bring. */
static void check_sections(const CwOutputSetting *s, size_t fixed)
{
  double low = s->high_pass.order ? s->high_pass.corner_hz : 0,
         high = s->low_pass.order ? s->low_pass.corner_hz : 1e9;

  for (size_t k = fixed; k < s->sections; k++) {
    if (!is_eq(&s->section[k]))
      continue;
    g_assert_cmpfloat(fabs(s->section[k].gain_db), >=, 0.5);
    g_assert_cmpfloat(s->section[k].frequency_hz, >=, low / M_SQRT2);
    g_assert_cmpfloat(s->section[k].frequency_hz, <=, high * M_SQRT2);
  }
}

static void check_protection(const CwCarOutput *output, const CwOutputSetting *s)
{
  double below = -INFINITY, above = -INFINITY;

  for (double hz = output->lowest_hz / 8; hz < 0.7 * output->lowest_hz; hz *= exp2(1.0 / PER_OCTAVE))
    below = fmax(below, chain_db(s, hz));
  for (double hz = output->lowest_hz; hz < 20000; hz *= exp2(1.0 / PER_OCTAVE))
    above = fmax(above, chain_db(s, hz));
  g_assert_cmpfloat(below, <, above - 10);
}

static void check_bounds(const CwLimits *limits, const CwCarOutput *output, const CwOutputSetting *s)
{
  for (double hz = 25; hz < 16000; hz *= exp2(1.0 / PER_OCTAVE)) {
    double db = sections_db(s, hz);
    g_assert_cmpfloat(db, <, limits->section_gain_most_db + 0.3);
    g_assert_cmpfloat(db, >, limits->section_gain_least_db - 0.3);
  }
  if (output->rattle_hz > 0)
    g_assert_cmpfloat(sections_db(s, output->rattle_hz), <, 0.3);
}

static void check_tune(const CwProposalInput *input, const CwProposal *p)
{
  size_t total = 0;

  for (size_t o = 0; o < p->outputs; o++) {
    const CwOutputSetting *s = &p->setting[o];
    size_t fixed = input->hold ? input->hold[o].fixed : 0;
    unsigned held = input->hold ? input->hold[o].held : 0;
    check_neighbours(s, fixed);
    check_sections(s, fixed);
    if (fixed == 0 && !(held & (CW_FIT_HIGH_PASS | CW_FIT_LOW_PASS))) {
      check_bounds(&input->limits, &input->car->output[o], s);
      check_protection(&input->car->output[o], s);
    }
    g_assert_cmpuint(s->sections, <=, MAX(input->limits.sections, fixed));
    total += s->sections - fixed;
  }
  g_assert_cmpuint(total, <=, 6 * p->outputs);
}

static void free_choices(CwProposal *choice[CW_PROPOSAL_CHOICES])
{
  for (int k = 0; k < CW_PROPOSAL_CHOICES; k++)
    cw_proposal_free(choice[k]);
}

/* Processors that there are: plenty, five filters, third-octave frequencies, no shelves, no all-pass, gentle
 * slopes. */
static CwLimits processor_of(int number)
{
  CwLimits limits = cw_limits_wide(KIT_RATE_HZ);

  limits.gain_step_db = 0.1;
  if (number == 1)
    limits.sections = 5;
  if (number == 2) {
    limits.frequency_steps_per_octave = 3;
    limits.gain_step_db = 0.5;
    limits.sections = 7;
  }
  if (number == 3)
    limits.shelves = limits.all_pass = false;
  if (number == 4)
    limits.crossover_order_most = 2;
  return limits;
}

static void test_signed(void)
{
  for (int number = 0; number < 5; number++) {
    CwCar *car = kit_front(5, 0.3, 40 + (unsigned)number);
    CwProposalInput input = kit_input(car);
    CwProposal *choice[CW_PROPOSAL_CHOICES];
    input.limits = processor_of(number);
    car->output[2].rattle_hz = 180;
    g_assert_true(cw_proposal_make_choices(&input, choice));
    for (int k = 0; k < CW_PROPOSAL_CHOICES; k++) {
      g_test_message("processor %d, choice %d: side %.2f dB, both %.2f dB, places %.2f dB", number, k,
                     choice[k]->result.side_db, choice[k]->result.both_db, choice[k]->places_db);
      check_tune(&input, choice[k]);
    }
    const CwProposal *closest = choice[CW_PROPOSAL_CLOSEST], *simplest = choice[CW_PROPOSAL_SIMPLEST];
    g_assert_cmpfloat(simplest->result.side_db, <=, closest->result.side_db + 0.3);
    g_assert_cmpfloat(simplest->result.both_db, <=, closest->result.both_db + 0.3);
    free_choices(choice);
    cw_car_free(car);
  }
}

/* Whatever is held comes back bit for bit, and is not in the way of a tune that holds all other rules. */
static void test_held(void)
{
  CwRandom random = cw_random_new(7);
  CwCar *car = kit_front(4, 0.3, 51);
  CwProposalInput input = kit_input(car);
  CwProposal *start = cw_proposal_make(&input), *choice[CW_PROPOSAL_CHOICES];
  static const unsigned kinds[] = {CW_FIT_GAIN,      CW_FIT_DELAY,    CW_FIT_POLARITY,
                                   CW_FIT_HIGH_PASS, CW_FIT_LOW_PASS, CW_FIT_SECTIONS};

  for (int turn = 0; turn < 6; turn++) {
    CwProposalHold *hold = g_new0(CwProposalHold, car->outputs);
    for (size_t o = 0; o < car->outputs; o++) {
      hold[o].setting = start->setting[o];
      hold[o].setting.high_pass.corner_hz *= 1 + 0.05 * cw_random_uniform(&random);
      hold[o].setting.gain_db -= rint(20 * cw_random_uniform(&random)) / 10;
      for (gsize k = 0; k < G_N_ELEMENTS(kinds); k++)
        hold[o].held |= cw_random_uniform(&random) < 0.25 ? kinds[k] : 0;
      hold[o].fixed = MIN(hold[o].setting.sections, (size_t)(3 * cw_random_uniform(&random)));
    }
    input.hold = hold;
    input.limits.sections = 3 + (size_t)turn;
    g_assert_true(cw_proposal_make_choices(&input, choice));
    for (int k = 0; k < CW_PROPOSAL_CHOICES; k++)
      for (size_t o = 0; o < car->outputs; o++) {
        const CwOutputSetting *s = &choice[k]->setting[o], *h = &hold[o].setting;
        g_assert_true(!(hold[o].held & CW_FIT_GAIN) || s->gain_db == h->gain_db);
        g_assert_true(!(hold[o].held & CW_FIT_DELAY) || s->delay_seconds == h->delay_seconds);
        g_assert_true(!(hold[o].held & CW_FIT_POLARITY) || s->inverted == h->inverted);
        g_assert_true(!(hold[o].held & CW_FIT_HIGH_PASS) ||
                      memcmp(&s->high_pass, &h->high_pass, sizeof s->high_pass) == 0);
        g_assert_true(!(hold[o].held & CW_FIT_LOW_PASS) ||
                      memcmp(&s->low_pass, &h->low_pass, sizeof s->low_pass) == 0);
        g_assert_cmpuint(s->sections, >=, hold[o].fixed);
        g_assert_cmpint(memcmp(s->section, h->section, hold[o].fixed * sizeof *s->section), ==, 0);
        if (hold[o].held & CW_FIT_SECTIONS)
          g_assert_cmpuint(s->sections, ==, hold[o].fixed);
        check_neighbours(s, hold[o].fixed);
      }
    free_choices(choice);
    g_free(hold);
  }
  cw_proposal_free(start);
  cw_car_free(car);
}

/* A car and its mirror image are tuned alike also where something is held. */
static void test_same_again(void)
{
  CwCar *car = kit_front(3, 0.3, 61);
  CwProposalInput input = kit_input(car);
  CwProposal *one[CW_PROPOSAL_CHOICES], *other[CW_PROPOSAL_CHOICES];

  g_assert_true(cw_proposal_make_choices(&input, one));
  g_assert_true(cw_proposal_make_choices(&input, other));
  for (int k = 0; k < CW_PROPOSAL_CHOICES; k++)
    for (size_t o = 0; o < car->outputs; o++)
      g_assert_cmpint(memcmp(&one[k]->setting[o].section, &other[k]->setting[o].section,
                             one[k]->setting[o].sections * sizeof(CwSection)),
                      ==, 0);
  free_choices(one);
  free_choices(other);
  cw_car_free(car);
}

static bool at_once(void *data)
{
  return true;
}

static void test_cancelled(void)
{
  CwCar *car = kit_front(3, 0.3, 61);
  CwProposalInput input = kit_input(car);
  CwProposal *choice[CW_PROPOSAL_CHOICES];

  input.cancelled = at_once;
  g_assert_false(cw_proposal_make_choices(&input, choice));
  for (int k = 0; k < CW_PROPOSAL_CHOICES; k++)
    g_assert_null(choice[k]);
  cw_car_free(car);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/choices/signed", test_signed);
  g_test_add_func("/choices/held", test_held);
  g_test_add_func("/choices/same-again", test_same_again);
  g_test_add_func("/choices/cancelled", test_cancelled);
  return g_test_run();
}
