/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/fit.h"

/* Adds sections to every output that has fewer than most: flat ones, with centre and Q where the cost promises to fall furthest for the
 * first decibels of gain. Returns how many were added; an output gets none where none is worth it. */
size_t cw_growth_add(const CwFitProblem *problem, CwFitState *state, size_t most);

/* Takes the section that is worth least out of every output where that is less than least_part of the cost. Returns how many went. */
size_t cw_growth_drop_least(const CwFitProblem *problem, CwFitState *state, double least_part);

/* Takes out sections that do next to nothing, and makes one of two that do the same thing in the same place, where one may do it alone. The
 * fit should be run after. Returns how many went. */
size_t cw_growth_prune(const CwFitProblem *problem, CwFitState *state, double least_db);

/* Takes out sections of less than least_db, and nothing else. */
void cw_growth_drop_flat(CwFitState *state, double least_db);
