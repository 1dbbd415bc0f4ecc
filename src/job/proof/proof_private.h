/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "job/proof/proof.h"

/* What the settings are known by: the beginning of their table's checksum, so that a proof of other settings
 * is not taken for one of these; NULL with error where there is no tune. The caller's. */
char *cw_proof_settings(CwRecord *vehicle, GError **error);

/* The name under which a measurement's impulse response is kept; the caller's. */
char *cw_proof_samples_name(const char *settings, CwSum side, const char *position);
