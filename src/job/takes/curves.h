/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/job_error.h"
#include "vehicle/project/project.h"

G_BEGIN_DECLS

/* Curves that are worked out from a take's impulse response when they are wanted. */
typedef enum {
  CW_CURVE_RESPONSE,     /* Hz, dB SPL for a full-scale sine fed; smoothed over 1/fraction octave */
  CW_CURVE_PHASE,        /* Hz, degrees, the arrival taken off, unwrapped */
  CW_CURVE_GROUP_DELAY,  /* Hz, ms after the timing reference; smoothed */
  CW_CURVE_EXCESS_PHASE, /* Hz, degrees beyond minimum phase, the arrival taken off */
  CW_CURVE_IMPULSE,      /* ms after the timing reference, full scale at the microphone for full scale fed */
  CW_CURVE_STEP,         /* the same, the impulse added up */
  CW_CURVE_DECAY, /* octave bands: Hz, seconds to fall by 60 dB, from the first 20 dB that are clear of the
                     noise */
  CW_CURVE_FIRST_SOUND, /* ms after the timing reference, the impulse with the speaker's own colour taken off:
                           each sound that arrives is a short pulse; the largest is 1 or -1 */
  CW_CURVE_SPREAD,      /* Hz, dB between the positions of a seat: standard deviation of the responses */
  CW_N_CURVES
} CwCurveKind;

/* "response", "phase" ... for scripts; NULL-terminated. */
extern const char *const cw_curve_words[];

typedef struct {
  CwCurveKind kind;
  const char *x_name, *y_name; /* with units, for heads of columns; static */
  guint count;
  double *x, *y;
} CwCurve;

typedef struct {
  int fraction;          /* smoothing, 1 to 48; 0 for the take's own 1/24 octave */
  double window_seconds; /* of the response after its arrival; 0 for all that is kept (half a second) */
} CwCurveOptions;

/* The curve of the latest accepted tuning take of an output at a position; for the spread, position names the
 * seat. Where the take does not know (noise, outside of the sweep) there is no point. NULL with
 * CW_JOB_ERROR_VEHICLE where there is no such take. Free with cw_curve_free(). */
CwCurve *cw_job_curve(CwProject *project, gint64 output, const char *position, CwCurveKind kind,
                      const CwCurveOptions *options, GError **error);
void cw_curve_free(CwCurve *curve);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwCurve, cw_curve_free)

/* Two columns with a head, full stop and comma whatever the locale; the caller's. */
char *cw_curve_to_csv(const CwCurve *curve);

G_END_DECLS
