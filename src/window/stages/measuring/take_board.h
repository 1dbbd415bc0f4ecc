/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "window/state/session.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* The board of takes: outputs down, positions around the seat's head across; each cell says by shape and word
 * whether there is a take and how good it is. Signal "chosen": another cell was chosen. */
#define CW_TYPE_TAKE_BOARD (cw_take_board_get_type())
G_DECLARE_FINAL_TYPE(CwTakeBoard, cw_take_board, CW, TAKE_BOARD, GtkBox)

/* A board of takes for a purpose. */
GtkWidget *cw_take_board_new(CwSession *session, CwPurpose purpose);

/* Brings the cells up to date. */
void cw_take_board_refresh(CwTakeBoard *board);

/* The chosen cell's position; NULL before there is one. */
const char *cw_take_board_get_position(CwTakeBoard *board);
void cw_take_board_set_position(CwTakeBoard *board, const char *position);

/* The latest take in a cell, accepted or not, borrowed; an accepted one goes before one that was refused
 * later. NULL if none. */
CwRecord *cw_take_board_find_take(CwTakeBoard *board, gint64 output, const char *position);

/* The first cell without an accepted take, position by position: moving the microphone is the work. */
gboolean cw_take_board_find_next(CwTakeBoard *board, gint64 *output, char **position);

G_END_DECLS
