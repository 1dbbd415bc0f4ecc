/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* Where to hold the microphone for a position: the head from above and from the side, the position marked
 * among the others, and the same in words. */
#define CW_TYPE_MICROPHONE_PICTURE (cw_microphone_picture_get_type())
G_DECLARE_FINAL_TYPE(CwMicrophonePicture, cw_microphone_picture, CW, MICROPHONE_PICTURE, GtkWidget)

/* A drawing of the head with the place of the microphone; empty until a position is set. */
GtkWidget *cw_microphone_picture_new(void);

/* Shows a position ("driver/3"); NULL for none. */
void cw_microphone_picture_show(CwMicrophonePicture *picture, const char *position);

G_END_DECLS
