/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <stddef.h>

/* Sorts values, the lowest first. Not for NAN. */
void cw_sort_rising(double *values, size_t count);

/* The median, NAN of none; sorts the values. Not for NAN. */
double cw_median(double *values, size_t count);
