/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/job_error.h"
#include "tuning/proposal/proposal.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* Parts of an output's settings, as bits. */
typedef enum {
  CW_TUNE_GAIN = 1,
  CW_TUNE_DELAY = 2,
  CW_TUNE_POLARITY = 4,
  CW_TUNE_HIGH_PASS = 8,
  CW_TUNE_LOW_PASS = 16,
  CW_TUNE_CROSSOVER = CW_TUNE_HIGH_PASS | CW_TUNE_LOW_PASS,
  CW_TUNE_FILTERS = 32,
  CW_TUNE_ALL = 63,
} CwTunePart;

typedef struct {
  gint64 output;
  guint parts; /* CwTunePart */
} CwTuneHold;

/* What a person asks of a proposal, beyond what is locked in the tune itself. */
typedef struct {
  guint filters;         /* most filters an output; 0 for what the processor has */
  guint only;            /* CwTunePart: all that may change; 0 for everything */
  GArray *outputs;       /* of gint64: the only outputs that may change; NULL for all */
  GArray *holds;         /* of CwTuneHold; NULL for none */
  gboolean keep_filters; /* filters that are there stay, others may join them */
} CwTuneWish;

/* Frees what a wish holds; it may be used again. */
void cw_tune_wish_clear(CwTuneWish *wish);

/* Reads "levels,delays,polarity,crossovers,filters", "1,3", and "2:crossover,5:filters" (the parts gain,
 * delay, polarity, crossover, high-pass, low-pass, filters, all) into the wish. FALSE with error that names
 * the word and says what was expected; the wish is as before. */
gboolean cw_tune_wish_read_only(CwTuneWish *wish, const char *text, GError **error);
gboolean cw_tune_wish_read_outputs(CwTuneWish *wish, const char *text, GError **error);
gboolean cw_tune_wish_read_holds(CwTuneWish *wish, const char *text, GError **error);

/* The part that a word of a tune output's "held" names ("gain", "delay" ...), 0 for none; and all that is
 * locked there, of a tune output (CwTuneOutput). */
guint cw_tune_part_of_word(const char *word);
guint cw_tune_locked_parts(CwRecord *tune_output);

/* Locks parts of a tune output, or opens them. */
void cw_tune_lock_parts(CwRecord *tune_output, guint parts, gboolean locked);

/* What the wish (may be NULL) and the locks of the vehicle's tune hold, for each output of the car. *hold is
 * NULL where nothing is held, else the caller's, with g_free(). FALSE with error where something is to be
 * held that the tune has not. */
gboolean cw_tune_wish_gather(const CwTuneWish *wish, CwRecord *vehicle, const CwCar *car, double rate_hz,
                             CwProposalHold **hold, GError **error);

G_END_DECLS
