/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/stages.h"

static GtkWidget *(*const makers[CW_ROUTE_STAGE_COUNT])(CwSession *session, CwSoundDesk *desk) = {
    [CW_STAGE_SHEET] = cw_stage_sheet_new,        [CW_STAGE_SUPPLY] = cw_stage_supply_new,
    [CW_STAGE_SIGNAL] = cw_stage_signal_new,      [CW_STAGE_MAP] = cw_stage_map_new,
    [CW_STAGE_LEVELS] = cw_stage_levels_new,      [CW_STAGE_PROOF] = cw_stage_proof_new,
    [CW_STAGE_HAND_OVER] = cw_stage_handover_new, [CW_STAGE_MEASURING] = cw_stage_measuring_new,
    [CW_STAGE_TUNING] = cw_stage_tuning_new,
};

GtkWidget *cw_stage_page_new(int stage, CwSession *session, CwSoundDesk *desk)
{
  return makers[stage](session, desk);
}
