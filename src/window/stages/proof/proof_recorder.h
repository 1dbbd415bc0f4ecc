/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "job/proof/proof.h"
#include "window/sound/sound_run.h"

G_BEGIN_DECLS

/* Measures the car with the settings loaded: what is wanted are sides (CwSum) at positions. Plays into the
 * processor's left input, its right one or both, at one position after the other, and judges in the end. Each
 * accepted measurement is on the disk with the judgement, as one edit. */
#define CW_TYPE_PROOF_RECORDER (cw_proof_recorder_get_type())
G_DECLARE_FINAL_TYPE(CwProofRecorder, cw_proof_recorder, CW, PROOF_RECORDER, CwSoundRun)

/* Records what proves the tune over the desk. The caller's reference. */
CwProofRecorder *cw_proof_recorder_new(CwSession *session, CwSoundDesk *desk);

G_END_DECLS
