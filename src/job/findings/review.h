/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* Brings findings (of supply, factory signal, measuring and tuning) and the stages' states up to date with
 * the vehicle; cheap, to be called after every edit and before it is committed. */
void cw_job_review(CwRecord *vehicle);

/* The parts of it: cw_job_find_measuring() clears and makes anew the measuring stage's findings, and so on.
 */
void cw_job_find_measuring(CwRecord *vehicle);
void cw_job_find_supply(CwRecord *vehicle);
void cw_job_find_signal(CwRecord *vehicle); /* and the survey's own list of them */
void cw_job_find_tuning(CwRecord *vehicle);
void cw_job_set_stage_states(CwRecord *vehicle);

/* Adds a finding about an output (0 for none). text, evidence and advice are copied. */
void cw_job_add_finding(CwRecord *vehicle, const char *code, CwSeverity severity, CwRouteStage stage,
                        gint64 output, const char *text, const char *evidence, const char *advice);

G_END_DECLS
