/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/fit/fit.h"

/* The search for what the fit alone cannot move: how many sections where, and how steep the crossovers. */

/* From a state without sections to one with as few as pay, up to what the problem's limits allow: all at
 * once, or (by_and_by) three an output first. Either may find what the other misses. Deterministic.
 * progress(part, data) is told parts from 0 to 1; may be NULL. */
CwFitResult cw_search_run(const CwFitProblem *problem, CwFitState *state, bool by_and_by,
                          void (*progress)(double part, void *data), void *data);

/* Rounds of exchanging sections that do little for others, from a state that has its sections; kinds that the
 * problem holds stay. */
CwFitResult cw_search_exchange(const CwFitProblem *problem, CwFitState *state, int rounds);

/* Leaves out the sections that are worth least, all others fitted again, as long as no figure falls behind by
 * more than slack_db, and further until there are at most `most`. Returns by how much the last one that could
 * not go would have fallen behind: what one more filter would gain. */
double cw_search_thin(const CwFitProblem *problem, CwFitState *state, double slack_db, size_t most);
