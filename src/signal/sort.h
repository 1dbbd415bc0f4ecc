/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <stddef.h>

/* Sorts values, the lowest first. Not for NAN. */
void cw_sort_rising(double *values, size_t count);
