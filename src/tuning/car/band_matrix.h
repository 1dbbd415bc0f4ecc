/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/car/car.h"

/* What the fit needs to know of a car, condensed: for narrow bands, the products of every two outputs'
 * responses averaged over the band's bins and over the places of a seat. With drives d (each output's
 * settings at the band's centre) the mean power of the sum at the seat is the quadratic form sum over i, j of
 * d_i conj(d_j) cross_ij. */
typedef struct {
  size_t bands, outputs, seats;
  double per_octave;
  double *hz;        /* centres */
  CwComplex *cross;  /* seats x bands x outputs x outputs: mean of H_i conj(H_j) */
  double *magnitude; /* the same of |H_i| |H_j| */
} CwBandMatrices;

/* For a settled car, from low_hz to high_hz in per_octave bands an octave. Free with
 * cw_band_matrices_free(). */
CwBandMatrices *cw_band_matrices_new(const CwCar *car, double low_hz, double high_hz, double per_octave);

/* Frees them; NULL is let pass. */
void cw_band_matrices_free(CwBandMatrices *matrices);
