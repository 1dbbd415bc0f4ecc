/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/map/map_check.h"

G_BEGIN_DECLS

/* Each output of a proving run, and what speaks against its driving one speaker or another. Of
 * cw_job_prove_judge() alone. */

typedef struct CwProvenWire CwProvenWire;
struct CwProvenWire {
  CwRecord *speaker, *proof;
  gint64 output;
  gboolean heard;
  double side_ms;     /* left after right: negative on the left; NAN if not known */
  double arrival_ms;  /* mean of both places */
  double distance_ms; /* by the sheet; NAN */
  double low_hz, high_hz, lowest_hz;
  const CwProvenWire *like; /* whose speaker it sounds like; NULL before that is known */
};

typedef struct {
  CwProject *project;
  guint count;
  CwProvenWire *wire;
  double latency_ms;
} CwProvenRun;

/* What is known of the wire of one speaker: its own evidence at the seat, and which other output it looks
 * like. */
CwProvenWire cw_proven_read_wire(CwRecord *vehicle, CwRecord *speaker, const char *seat);

/* What is common to all arrivals, ms; NAN where too few distances are known. */
double cw_proven_find_latency(const CwProvenRun *run);

/* What an output has against its driving a speaker: side, distance, band. 0 for nothing; one of the three
 * counts 4 at most. */
double cw_proven_points(const CwProvenRun *run, const CwProvenWire *heard, const CwProvenWire *speaker);

/* The speaker of the same kind on the other side, if it was heard, by an output that no other one shares;
 * NULL for none. */
const CwProvenWire *cw_proven_mate(const CwProvenRun *run, const CwProvenWire *speaker);

/* How differently two outputs sound, mean of both places, dB; NAN where they share too little of a band. */
double cw_proven_difference_db(const CwProvenRun *run, const CwProvenWire *one, const CwProvenWire *other);

typedef double (*CwProvingComparison)(const CwProvingResponse *, const CwProvingResponse *);

/* A comparison of two outputs from least_hz on, the lesser of both places; NAN where one of them was not
 * heard at both. */
double cw_proven_compare(const CwProvenRun *run, const CwProvenWire *one, const CwProvenWire *other,
                         double least_hz, CwProvingComparison compare);

G_END_DECLS
