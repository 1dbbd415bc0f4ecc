/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <glib.h>

G_BEGIN_DECLS

/* What can be wrong with a request to the practice bay: its setup, seat, position, route or rate. */
typedef enum {
  CW_PRACTICE_ERROR_REQUEST,
} CwPracticeError;
/* Longest description of a bay that is read, bytes, and the sample rates that it plays at. */
#define CW_PRACTICE_TEXT_MOST (192u * 1024u)
#define CW_PRACTICE_RATE_LEAST_HZ 8000.0
#define CW_PRACTICE_RATE_MOST_HZ 192000.0

#define CW_PRACTICE_ERROR (cw_practice_error_quark())
GQuark cw_practice_error_quark(void);

G_END_DECLS
