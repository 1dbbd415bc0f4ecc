/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/fit/fit.h"

/* Adds sections to every output that has fewer than most: flat ones, with centre and Q where the cost
 * promises to fall furthest for the first decibels of gain. Returns how many were added; an output gets none
 * where none is worth it, and none near its avoid_hz (one an output, 0 for none; NULL for none at all). */
size_t cw_section_count_add(const CwFitProblem *problem, CwFitState *state, size_t most,
                            const double *avoid_hz);

/* Takes the section that is worth least (rank 0; or the next above, 1 ...) out of every output where that is
 * less than least_part of the cost. dropped_hz, if not NULL, is told where they stood, one an output, 0 for
 * none. Returns how many went. */
size_t cw_section_count_drop_least(const CwFitProblem *problem, CwFitState *state, double least_part,
                                   size_t rank, double *dropped_hz);

/* Takes out sections that do next to nothing, and makes one of two that do the same thing in the same place,
 * where one may do it alone. The fit should be run after. Returns how many went. */
size_t cw_section_count_prune(const CwFitProblem *problem, CwFitState *state, double least_db);

/* Takes out one section. */
void cw_section_count_drop(CwOutputSetting *setting, size_t section);

/* Takes out sections of less than least_db, and nothing else. */
void cw_section_count_drop_flat(CwFitState *state, double least_db);

/* Takes out up to most sections, at most one an output, those that the fit's model says cost least; never
 * fixed ones nor all-pass sections. Returns how many went. */
size_t cw_section_count_drop_cheapest(const CwFitProblem *problem, CwFitState *state, size_t most);

/* Of all outputs together. */
size_t cw_section_count_total(const CwFitState *state);
