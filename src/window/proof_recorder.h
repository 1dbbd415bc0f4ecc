/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "job/proof.h"
#include "window/recorder.h"

G_BEGIN_DECLS

/* Measures the car with the settings loaded: plays into the processor's left input, its right one or both, at one position after the
 * other, and judges in the end. Each accepted measurement is on the disk with the judgement, as one edit.
 * Signal "changed": it goes on, or has ended. */
#define CW_TYPE_PROOF_RECORDER (cw_proof_recorder_get_type())
G_DECLARE_FINAL_TYPE(CwProofRecorder, cw_proof_recorder, CW, PROOF_RECORDER, GObject)

typedef struct {
  CwSum side;
  char *position; /* "driver/3" */
} CwWantedProof;

GPtrArray *cw_wanted_proofs_new(void);
void cw_wanted_proofs_add(GPtrArray *wanted, CwSum side, const char *position);

CwProofRecorder *cw_proof_recorder_new(CwSession *session, CwSoundDesk *desk);

/* Begins with what is wanted, which it takes over. Ends at the first that is refused, stopped or fails. */
void cw_proof_recorder_start(CwProofRecorder *recorder, GPtrArray *wanted, CwRecordingWay way);
void cw_proof_recorder_stop(CwProofRecorder *recorder);
gboolean cw_proof_recorder_is_running(CwProofRecorder *recorder);

G_END_DECLS
