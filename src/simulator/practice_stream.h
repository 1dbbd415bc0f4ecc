/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the practice bay hears, block by block as it sounds. */
#pragma once

#include "simulator/practice_setup.h"

typedef struct CwPracticeStream CwPracticeStream;

/* A stream at rate_hz in blocks of `block` frames, with the microphone at the seat's position. What goes in
 * comes out `delay_frames` later than the air makes it. Only the device outputs whose bits are set in `used`
 * sound. NULL with CW_PRACTICE_ERROR. The setup must outlive it. */
CwPracticeStream *cw_practice_stream_new(const CwPracticeSetup *setup, double rate_hz, guint block,
                                         gsize delay_frames, guint32 used, guint seat, guint position,
                                         guint64 seed, GError **error);
void cw_practice_stream_free(CwPracticeStream *stream);

/* One block: `output` holds block times cw_practice_setup_get_outputs() interleaved samples, `input` takes
 * block times CW_PRACTICE_INPUTS. */
void cw_practice_stream_run(CwPracticeStream *stream, const float *output, float *input);

/* Leaves the noise out from now on. */
void cw_practice_stream_set_quiet(CwPracticeStream *stream, gboolean quiet);
