/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "sound/protocol.h"

#include <gtk/gtk.h>

G_BEGIN_DECLS

/* One bar a channel, from -60 dB to full scale, with the highest of the last seconds held. */
#define CW_TYPE_METER (cw_meter_get_type())
G_DECLARE_FINAL_TYPE(CwMeter, cw_meter, CW, METER, GtkWidget)

/* A level meter, empty. */
GtkWidget *cw_meter_new(void);

/* Shows new peaks, full scale 1; NULL for silence. */
void cw_meter_show(CwMeter *meter, const CwChannelNumbers *peak);

G_END_DECLS
