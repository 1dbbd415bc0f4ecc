/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/record/record.h"

G_BEGIN_DECLS

/* Undo and redo of a live record, by snapshots of it: a step costs what changed. Properties "can-undo",
 * "can-redo", "undo-name", "redo-name" follow it. */
#define CW_TYPE_HISTORY (cw_history_get_type())
G_DECLARE_FINAL_TYPE(CwHistory, cw_history, CW, HISTORY, GObject)

#define CW_HISTORY_MOST_STEPS 500

/* A history that begins with the record as it stands, without steps. */
CwHistory *cw_history_new(CwRecord *record);

/* Records what was edited since as one step with a name for people ("Change delay of Front left high"). Edits
 * with the same merge key (NULL for none) that follow each other closely become one step: a dragged handle is
 * undone at once. FALSE, and no step, if nothing differs. What could be redone is gone. */
gboolean cw_history_record(CwHistory *history, const char *name, const char *merge_key);

/* Ends a step: the next edit is one of its own, whatever its merge key. */
void cw_history_seal(CwHistory *history);

/* Brings the record to before the last step, in place; edits that were not recorded are lost. FALSE if there
 * is none. */
gboolean cw_history_undo(CwHistory *history);

/* Brings the record to after the step last undone. FALSE if there is none. */
gboolean cw_history_redo(CwHistory *history);

/* TRUE if there is a step to undo. */
gboolean cw_history_can_undo(CwHistory *history);

/* TRUE if there is a step to redo. */
gboolean cw_history_can_redo(CwHistory *history);

/* The name of the step that undo takes back, NULL if there is none; borrowed. */
const char *cw_history_get_undo_name(CwHistory *history);

/* The name of the step that redo brings again, NULL if there is none; borrowed. */
const char *cw_history_get_redo_name(CwHistory *history);

/* The snapshot at which the history stands, borrowed: the record, but for edits not recorded yet. */
CwRecord *cw_history_get_present(CwHistory *history);

G_END_DECLS
