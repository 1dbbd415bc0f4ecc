/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/proposal/proposal.h"

/* Cars for tests, made up here: every speaker a chain of sections, with a direct sound and a few reflections
 * of its own at every place. */

#define KIT_RATE_HZ 48000.0
#define KIT_FRAMES 8192

typedef struct {
  CwWay way;
  CwSide side;
  double lowest_hz, delay_seconds;
  CwSection section[4];  /* kind CW_SECTION_KINDS ends the list before the fourth */
  double second_seconds; /* a second arrival as loud as the first, so much later; 0 for none */
  CwSpeakerRole role;
} KitSpeaker;

/* seed chooses the reflections; level is theirs against the direct sound, 0 for none. */
CwCar *kit_car(const KitSpeaker *speakers, size_t count, size_t places, double level, unsigned seed);

/* A two-way front with a bass: five outputs, left before right. */
CwCar *kit_front(size_t places, double level, unsigned seed);

CwProposalInput kit_input(const CwCar *car);

/* The level of a proposal's sum at hz, dB, at one place (left 0, right 1, both 2), by the formulas of
 * sections alone. */
double kit_sum_db(const CwCar *car, const CwProposal *proposal, size_t place, int sum, double hz);
