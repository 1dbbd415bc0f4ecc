/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages.h"

#include <glib/gi18n-lib.h>

static GtkWidget *(*const makers[CW_N_STAGES])(CwSession *session, CwSoundDesk *desk) = {
    [CW_STAGE_SHEET] = cw_stage_sheet_new,
    [CW_STAGE_MEASURING] = cw_stage_measuring_new,
    [CW_STAGE_TUNING] = cw_stage_tuning_new,
};

GtkWidget *cw_stage_page_new(int stage, CwSession *session, CwSoundDesk *desk)
{
  if (makers[stage])
    return makers[stage](session, desk);
  return cw_page_new(session, stage, _("Not there yet."));
}
