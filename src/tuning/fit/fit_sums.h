/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/fit/fit.h"

/* What the outputs add up to at a seat, and how each of them moves it; inside the room only. drive and force:
 * outputs x bands. */

/* Power of a sum over the target's in every band, and for every output m_i d_i conj(sum_j m_j d_j C_ji): a
 * relative change e of drive i changes the power by 2 Re(e force_i). */
void cw_fit_sum_power(const CwFitProblem *problem, const CwComplex *drive, size_t seat, CwSum sum,
                      CwComplex *force, double *power);

/* The same of what one output alone adds to a sum. */
void cw_fit_own_power(const CwFitProblem *problem, const CwComplex *drive, size_t seat, CwSum sum,
                      size_t output, CwComplex *force, double *power);

/* How far the sum of the stage (no rear fill), left or right, stays behind the sum of the magnitudes, dB;
 * weight is near 1 where two speakers of the stage are within 8 dB of each other. The force is that of
 * log(magnitudes / power). */
void cw_fit_loss(const CwFitProblem *problem, const CwComplex *drive, size_t seat, CwSum side,
                 CwComplex *force, double *loss_db, double *weight);
