/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/project.h"

G_BEGIN_DECLS

/* Compares the takes made for proof with the prediction for a seat, output by output and whole, and puts a row for each into
 * the vehicle; the caller commits. FALSE with error where takes are missing. */
gboolean cw_proof_compare(CwProject *project, const char *seat, GError **error);

G_END_DECLS
