/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "signal/filters/fixed_point.h"
#include "signal/filters/section.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

#define CW_TABLE_ERROR (cw_table_error_quark())
GQuark cw_table_error_quark(void);
typedef enum { CW_TABLE_ERROR_NO_TUNE, CW_TABLE_ERROR_SECTION, CW_TABLE_ERROR_FORMAT } CwTableError;

/* The coefficient table of a vehicle's tune: everything a processor must be told, in plain numbers. */
typedef struct {
  int use;          /* CW_USE_CROSSOVER ... */
  const char *kind; /* as in files */
  double frequency_hz, gain_db, q;
  CwCoefficients c; /* y = b0 x + b1 x' + b2 x'' - a1 y' - a2 y'' */
} CwTableSection;

typedef struct {
  int number;
  char *name;
  double left, right, gain_db, delay_samples;
  gboolean inverted;
  guint n_sections;
  CwTableSection *sections;
} CwTableChannel;

typedef struct {
  double rate_hz;
  guint n_outputs, n_inputs;
  CwTableChannel *outputs, *inputs;
} CwTable;

/* The table at rate_hz (0: the tune's own). Voicing runs after an output's own sections; bypassed sections
 * are left out. Errors name the output and section. Free with cw_table_free(). */
CwTable *cw_table_new(CwRecord *vehicle, double rate_hz, GError **error);
void cw_table_free(CwTable *table);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwTable, cw_table_free)

/* As text, numbers with a full stop and as many digits as bring the same double back. format: "json", "csv",
 * "tsv" or "c". a_sign plus writes a1 and a2 negated. fixed, if not NULL, adds the rounded codes of every
 * coefficient, and refuses sections that do not fit. The caller's. */
char *cw_table_write(const CwTable *table, const char *format, gboolean a_sign_plus,
                     const CwFixedFormat *fixed, GError **error);

/* SHA-256 of the vehicle's table as it is written in JSON at the tune's own rate, in hexadecimal; NULL with
 * error where there is no tune. The caller's. */
char *cw_table_checksum(CwRecord *vehicle, GError **error);

G_END_DECLS
