/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The board of takes: outputs down, positions around the seat's head across; each cell says by shape and word
 * whether there is a take and how good it is. Signal "chosen": another cell was chosen. */
#define CW_TYPE_BOARD (cw_board_get_type())
G_DECLARE_FINAL_TYPE(CwBoard, cw_board, CW, BOARD, GtkBox)

GtkWidget *cw_board_new(CwSession *session, int purpose);
void cw_board_refresh(CwBoard *board);
const char *cw_board_get_position(CwBoard *board);
void cw_board_set_position(CwBoard *board, const char *position);
CwRecord *cw_board_find_take(CwBoard *board, gint64 output, const char *position);
gboolean cw_board_find_next(CwBoard *board, gint64 *output, char **position);

G_END_DECLS
