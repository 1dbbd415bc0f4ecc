/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/sheet/cautions.h"

#include <glib/gi18n-lib.h>

static const char *const none[] = {NULL};

static const char *const supply[] = {
    N_("Disconnect the battery's negative terminal before you touch power wiring, and connect it last."),
    N_("Put the fuse as close to the battery as the local rules ask; it protects the cable, not the "
       "amplifier."),
    N_("Orange cables of hybrid and electric vehicles carry high voltage: for licensed people only."),
    N_("Yellow connectors belong to airbags and belt tensioners: do not probe, cut or unplug them."),
    N_("The vehicle maker's instructions and local codes come before anything said here."),
    NULL,
};

static const char *const measuring[] = {
    N_("No stand, cable or hand in an airbag's path while the ignition is on."),
    N_("Start quiet: a sweep at level can destroy a tweeter in a second."),
    N_("Wear hearing protection when it is loud; keep a closed workshop aired while an engine runs or a "
       "battery charges."),
    NULL,
};

static const char *const handover[] = {
    N_("The system can be loud enough to harm hearing: at 85 dB(A) eight hours a day are the limit, at 100 "
       "dB(A) a quarter of an hour."),
    N_("Do not change settings while driving, and keep the level low enough to hear horns and sirens."),
    NULL,
};

const char *const *cw_job_cautions(CwRouteStage stage)
{
  switch (stage) {
  case CW_STAGE_SUPPLY:
  case CW_STAGE_LEVELS:
    return supply;
  case CW_STAGE_SIGNAL:
  case CW_STAGE_MEASURING:
  case CW_STAGE_PROOF:
    return measuring;
  case CW_STAGE_TUNING:
  case CW_STAGE_HAND_OVER:
    return handover;
  default:
    return none;
  }
}
