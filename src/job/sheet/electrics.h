/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "electrics/cable_choice.h"
#include "electrics/rating.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

#define CW_ELECTRICS_MOST_DROP_V 0.5 /* there and back, at full power; common practice */

/* What one channel, or one bridged pair, drives. */
typedef struct {
  gint64 channels[2];
  guint n_channels; /* 1, or 2 for a bridged pair */
  guint n_speakers;
  gboolean in_series;
  double rated_w, rated_ohm; /* as on the sheet */
  double load_ohm, least_ohm;
  double power_w; /* into this load */
  double volts;   /* V RMS that this power is in this load: what to set the gain by */
  gboolean ok;    /* the load is not below the least */
} CwChannelLoad;

typedef struct {
  char *name;
  guint n_loads;
  CwChannelLoad *loads;
  double efficiency, length_m;
  CwMaterial material;
  double power_w, current_a; /* of all channels at full power */
  CwCableChoice cable;       /* the smallest that will do; NAN in it where none will */
  double fitted_mm2;         /* the sheet's; NAN where it names none, and so are the next two */
  double fitted_drop_v, fitted_rating_a;
  double fitted_fuse_a; /* the sheet's; NAN where it names none */
} CwAmplifierSupply;

/* The supply and wiring of a whole vehicle. Free with cw_electrics_free(). */
typedef struct {
  guint n_amplifiers;
  CwAmplifierSupply *amplifiers;
  double running_v, alternator_a; /* alternator_a NAN if not known */
  double total_a;
} CwElectrics;

/* Loads, currents, cables and fuses of the vehicle as its sheet has them. Never fails: what cannot be had is
 * NAN. Methods: electrics/power.h, electrics/cable.h. The caller frees it. */
CwElectrics *cw_electrics_new(CwRecord *vehicle);
void cw_electrics_free(CwElectrics *electrics);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwElectrics, cw_electrics_free)

/* The cable that is fitted loses no more than it may, and bears the fuse that the current needs; TRUE where
 * none is named, or the amplifier feeds nothing yet. */
gboolean cw_amplifier_cable_ok(const CwAmplifierSupply *amplifier);

/* The fuse (the one that is fitted, or else the smallest that holds the current) is not above what the cable
 * bears: the one that is fitted, or else the one chosen for the current. */
gboolean cw_amplifier_fuse_ok(const CwAmplifierSupply *amplifier);

/* The alternator alone bears all amplifiers at full power; FALSE also where it is not known. */
gboolean cw_electrics_alternator_ok(const CwElectrics *electrics);

/* What a cable's rating rests on, in the reader's language: the law, its gauge, and what was derived from it.
 * Free it. */
char *cw_cable_rating_source(double size_mm2, CwMaterial material);

/* As JSON of one line; "alternator_ok" is null where the sheet does not know the alternator. The caller's. */
char *cw_electrics_to_json(const CwElectrics *electrics);

/* How the numbers of an amplifier (from 0) came about, formula by formula with the numbers in them, one a
 * line, in the reader's language; free with g_strfreev(). */
char **cw_electrics_working(const CwElectrics *electrics, guint amplifier);

G_END_DECLS
