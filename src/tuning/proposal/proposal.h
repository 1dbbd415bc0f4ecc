/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/fit/fit.h"
#include "tuning/proposal/null.h"

/* From a measured car to a whole tune. */

/* What is held of an output: kinds as bits (CwFitKind) that keep the setting's values bit for bit, and its
 * first `fixed` sections, which stay first. With CW_FIT_SECTIONS no other section joins them. */
typedef struct {
  unsigned held;
  size_t fixed;
  CwOutputSetting setting; /* delay as the processor has it */
} CwProposalHold;

typedef struct {
  const CwCar *car;
  const CwProposalHold *hold; /* one an output; NULL where nothing is held */
  const double *target_hz,
      *target_db; /* target curve of every sum, straight lines over log frequency; count 0 for flat */
  size_t target_count;
  CwLimits limits;
  bool (*cancelled)(void *data);             /* may be NULL */
  void (*progress)(double part, void *data); /* may be NULL */
  void *data;
} CwProposalInput;

/* Why a section is there. */
typedef struct {
  double without_db; /* how much farther off the worst of sides, both and left against right is without it,
                        all else as it is */
  unsigned
      seen; /* places, as bits, where the output by itself stands out there; 0 of kinds other than peaking */
} CwSectionReason;

typedef struct {
  size_t outputs;
  CwSectionReason *reason;   /* outputs x CW_SETTING_MOST_SECTIONS */
  CwOutputSetting *setting;  /* delays complete: the earliest output has 0; gains: the loudest path peaks at 0
                                dB or just under */
  CwFitResult result;        /* of the settings as they are */
  CwFitResult target_result; /* the same against the input's own target; differs from result after a refit */
  CwFitResult free_result;   /* what the same settings were before they had to go on the processor's grid */
  size_t seats;
  CwFitResult *seat_result; /* at every seat */
  size_t holes;
  CwNull *hole;
  double delay_wanted_seconds; /* the longest, before the processor's limit */
  double low_hz, high_hz;      /* the range that was fitted */
  double places_db;   /* as result.side_db, but every place for itself: what moving the head changes counts */
  double level_db;    /* mean level of both sides' sum, 200 Hz to 5 kHz, for full scale on both inputs */
  double one_more_db; /* what one filter more would gain, by the filter that was left out last */
} CwProposal;

/* Three tunes for one car: as close to the target as filters bring it, with fewer filters and at most 0.3 dB
 * behind, and least changing from place to place. */
typedef enum {
  CW_PROPOSAL_CLOSEST,
  CW_PROPOSAL_SIMPLEST,
  CW_PROPOSAL_STEADIEST,
  CW_PROPOSAL_CHOICES
} CwProposalChoice;

/* What a proposal may use of a processor (CwProcessor): its limits, but no filter boosts by more than 6 dB.
 */
CwLimits cw_tuning_limits(CwRecord *processor);

/* Proposes crossovers, levels, delays, polarity and filters for the car; NULL if cancelled. Free with
 * cw_proposal_free(). Deterministic: the same input gives the same settings, bit for bit. */
CwProposal *cw_proposal_make(const CwProposalInput *input);
void cw_proposal_free(CwProposal *proposal);

/* The same, and the two others; FALSE, and all NULL, if cancelled. Each is to be freed. */
bool cw_proposal_make_choices(const CwProposalInput *input, CwProposal *choice[CW_PROPOSAL_CHOICES]);

/* The same tune for another processor: the sums that the settings were predicted to give are the target of a
 * search within the input's limits; the result is against those sums. settings: one an output of the car,
 * delays as a processor has them. */
CwProposal *cw_proposal_refit(const CwProposalInput *input, const CwOutputSetting *settings);
