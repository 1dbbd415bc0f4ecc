/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/sound/sound_desk.h"
#include "window/widgets/page.h"

G_BEGIN_DECLS

/* The page of a stage, CW_STAGE_SHEET to CW_STAGE_HAND_OVER. */
GtkWidget *cw_stage_page_new(int stage, CwSession *session, CwSoundDesk *desk);

/* One a stage, each in the file of its name (stage_sheet.c ...). */
GtkWidget *cw_stage_sheet_new(CwSession *session, CwSoundDesk *desk);
GtkWidget *cw_stage_measuring_new(CwSession *session, CwSoundDesk *desk);
GtkWidget *cw_stage_tuning_new(CwSession *session, CwSoundDesk *desk);
GtkWidget *cw_stage_supply_new(CwSession *session, CwSoundDesk *desk);
GtkWidget *cw_stage_signal_new(CwSession *session, CwSoundDesk *desk);
GtkWidget *cw_stage_map_new(CwSession *session, CwSoundDesk *desk);
GtkWidget *cw_stage_levels_new(CwSession *session, CwSoundDesk *desk);
GtkWidget *cw_stage_proof_new(CwSession *session, CwSoundDesk *desk);
GtkWidget *cw_stage_handover_new(CwSession *session, CwSoundDesk *desk);

G_END_DECLS
