/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

/* Kaiser's window (Kaiser, IEEE ISCAS 1974): 1 in the middle, place 0, falling to either end, place -1 and 1;
 * 0 beyond. beta sets how far what it shapes is suppressed: some 90 dB for 9, 96 dB for 9.6 (Oppenheim and
 * Schafer, Discrete-Time Signal Processing, 7.5.3). */
double cw_kaiser_window(double place, double beta);
