/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "tuning/fit/fit.h"

/* The fit's variables, drives and their derivatives; inside the room only. */

/* The three of a section in this order, one after the other. */
typedef enum {
  CW_VAR_GAIN,
  CW_VAR_SECTION_HZ,
  CW_VAR_SECTION_GAIN,
  CW_VAR_SECTION_Q,
  CW_VAR_HIGH_PASS,
  CW_VAR_LOW_PASS,
  CW_VAR_DELAY
} CwVarKind;

/* One variable and the outputs that it moves: frequencies and Q by their logarithm, gains in dB, delays in
 * units of 20 us. */
typedef struct {
  CwVarKind kind;
  size_t output, section;
  int mate; /* the other output that it moves, or -1 */
  double value, least, most, stride;
} CwFitVar;

typedef struct {
  size_t count;
  CwFitVar *var;
} CwFitVars;

#define CW_DELAY_UNIT_SECONDS 20e-6

/* The variables of a state: all that neither problem nor state hold. Clear with cw_fit_vars_clear(). */
CwFitVars cw_fit_vars_read(const CwFitProblem *problem, const CwFitState *state);

/* Writes their values into a state of the same outputs and sections. */
void cw_fit_vars_write(const CwFitVars *vars, CwFitState *state);

/* Frees them. */
void cw_fit_vars_clear(CwFitVars *vars);

/* Sets what a variable stands for in a setting of its output, or of its mate. */
void cw_fit_var_write(const CwFitVar *var, double value, CwOutputSetting *setting);

/* drive: outputs x bands. slope: for every variable, bands values of d log(drive) / d variable for the
 * outputs it moves; NULL to leave them out. */
void cw_fit_drives(const CwFitProblem *problem, const CwFitState *state, const CwFitVars *vars,
                   CwComplex *drive, CwComplex *slope);

/* What all sections of a setting do together at every step-th band, dB, by the same formulas; db has room for
 * (bands + step - 1) / step. */
void cw_fit_sections_db(const CwFitProblem *problem, const CwOutputSetting *setting, size_t step, double *db);

/* Square of the size; cabs() takes care of values that a drive never has, and that takes long. */
static inline double cw_fit_power(CwComplex value)
{
  return creal(value) * creal(value) + cimag(value) * cimag(value);
}
