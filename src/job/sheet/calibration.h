/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/job_error.h"
#include "vehicle/record/numbers.h"

G_BEGIN_DECLS

/* Reads a microphone's calibration from text: a line a frequency, "Hz dB" or "Hz dB degrees", two to
 * CW_CALIBRATION_LINES_MOST of them, in rising order. Columns are parted by spaces, tabs, semicolons or
 * commas; numbers may have a decimal comma where commas do not part the columns. Lines before the first that
 * begins with a number are a heading, and so are, anywhere, those that begin with one of * # ; ! " or with
 * //. The degrees are checked and left: a microphone is minimum-phase, so its phase follows from its level.
 * NULL with CW_JOB_ERROR_FILE that names the source, the line and what was expected. A curve of hz and dB,
 * the caller's. */
#define CW_CALIBRATION_LINES_MOST 20000

/* The same from text in memory; source is the name that errors tell. length in bytes. The caller's, with
 * cw_numbers_unref(); NULL with error. */
CwNumbers *cw_calibration_parse(const char *text, gsize length, const char *source, GError **error);

/* The same from a file of at most 4 MiB. */
CwNumbers *cw_calibration_read(const char *path, GError **error);

G_END_DECLS
