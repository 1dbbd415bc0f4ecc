/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/record/record.h"

G_BEGIN_DECLS

/* Undo and redo of a live record, by snapshots of it: a step costs what changed. Properties "can-undo",
 * "can-redo", "undo-name", "redo-name" follow it. */
#define CW_TYPE_HISTORY (cw_history_get_type())
G_DECLARE_FINAL_TYPE(CwHistory, cw_history, CW, HISTORY, GObject)

#define CW_HISTORY_MOST_STEPS 500

CwHistory *cw_history_new(CwRecord *record);
gboolean cw_history_record(CwHistory *history, const char *name, const char *merge_key);
void cw_history_seal(CwHistory *history);
gboolean cw_history_undo(CwHistory *history);
gboolean cw_history_redo(CwHistory *history);
gboolean cw_history_can_undo(CwHistory *history);
gboolean cw_history_can_redo(CwHistory *history);
const char *cw_history_get_undo_name(CwHistory *history);
const char *cw_history_get_redo_name(CwHistory *history);
CwRecord *cw_history_get_present(CwHistory *history);

G_END_DECLS
