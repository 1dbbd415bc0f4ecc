/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "simulator/practice_stream.h"

#include "simulator/convolver.h"
#include "simulator/practice_drive.h"
#include "simulator/practice_error.h"

#include <math.h>
#include <string.h>

/* Cabin and speaker have died away after this long. */
#define RESPONSE_S 0.17
#define RUMBLE_HZ 45.0

struct CwPracticeStream {
  const CwPracticeSetup *setup;
  guint block, outputs, speakers, rattles;
  guint32 used; /* bits of the device outputs that sound */
  CwPracticeDrive *drive[CW_PRACTICE_SPEAKERS_MOST];
  guint32 wires[CW_PRACTICE_SPEAKERS_MOST]; /* bits of the outputs that reach each speaker */
  CwPracticeRattle *rattle[CW_PRACTICE_DEFECTS_MOST];
  guint rattle_speaker[CW_PRACTICE_DEFECTS_MOST]; /* whose drive sets it off */
  guint rattle_defect[CW_PRACTICE_DEFECTS_MOST];
  CwConvolver *convolver; /* sources: speakers, then rattles */
  double *driven;         /* one block a speaker */
  double *heard, *clatter;
  float *late; /* what waits for the latency: frames times CW_PRACTICE_INPUTS, a ring */
  gsize late_frames, late_at;
  CwPracticeNoise noise;
  double hiss, rumble, rumble_keep, rumble_state;
  gboolean quiet;
};

/* Whether anything can reach a speaker: the processor's inputs reach all. */
static gboolean is_used(const CwPracticeStream *stream, const CwPracticeCar *car, guint speaker)
{
  return (stream->used >> (stream->outputs - 2)) != 0 ||
         (stream->used & cw_practice_car_wires(car, speaker, NULL)) != 0;
}

static void make_speakers(CwPracticeStream *stream, const CwPracticeSetup *setup,
                          const CwPracticePoint *microphone, double rate_hz, guint64 seed)
{
  const CwPracticeCar *car = setup->car;
  gsize length = (gsize)(RESPONSE_S * rate_hz);
  double *response = g_new(double, length);
  for (guint i = 0; i < car->defects; i++) {
    if (!car->defect[i].on || car->defect[i].kind != CW_DEFECT_RATTLE)
      continue;
    for (guint k = 0; k < car->speakers; k++)
      if (car->speaker[k].output == car->defect[i].output && is_used(stream, car, k)) {
        stream->rattle[stream->rattles] = cw_practice_rattle_new(&car->defect[i], rate_hz, seed);
        stream->rattle_speaker[stream->rattles] = k;
        stream->rattle_defect[stream->rattles++] = i;
      }
  }
  stream->convolver = cw_convolver_new(car->speakers + stream->rattles, length, stream->block);
  for (guint i = 0; i < car->speakers; i++) {
    if (!is_used(stream, car, i))
      continue;
    stream->drive[i] = cw_practice_drive_new(setup, i, rate_hz);
    stream->wires[i] = cw_practice_car_wires(car, i, NULL);
    cw_practice_speaker_impulse(car, i, microphone, rate_hz, length, response);
    cw_convolver_set(stream->convolver, i, response);
  }
  for (guint i = 0; i < stream->rattles; i++) {
    cw_practice_rattle_impulse(car, stream->rattle_defect[i], microphone, rate_hz, length, response);
    cw_convolver_set(stream->convolver, car->speakers + i, response);
  }
  g_free(response);
}

static gboolean check_request(const CwPracticeSetup *setup, double rate_hz, guint seat, guint position,
                              GError **error)
{
  const char *wrong = NULL;
  if (seat >= setup->car->seats || position >= CW_PRACTICE_POSITIONS)
    wrong = "expected one of this car's seats, and a position from 0 to 5";
  else if (!(rate_hz >= CW_PRACTICE_RATE_LEAST_HZ && rate_hz <= CW_PRACTICE_RATE_MOST_HZ))
    wrong = "expected a rate from 8000 to 192000 Hz";
  if (wrong)
    g_set_error(error, CW_PRACTICE_ERROR, CW_PRACTICE_ERROR_REQUEST, "Practice bay: %s", wrong);
  else if (setup->settings_rate_hz > 0 && setup->settings_rate_hz != rate_hz)
    g_set_error(error, CW_PRACTICE_ERROR, CW_PRACTICE_ERROR_REQUEST,
                "Practice bay: the loaded table is for %g Hz, so expected that rate and not %g Hz",
                setup->settings_rate_hz, rate_hz);
  else
    return TRUE;
  return FALSE;
}

static void make_noise(CwPracticeStream *stream, const CwPracticeCar *car, double rate_hz, guint64 seed)
{
  /* Full scale is a sine's, whose effective value lies 3 dB below its peak. */
  stream->hiss = pow(10, (car->microphone_noise_db_spl - car->spl_at_full_scale) / 20) / G_SQRT2;
  stream->rumble_keep = exp(-2 * G_PI * RUMBLE_HZ / rate_hz);
  stream->rumble = pow(10, (car->rumble_db_spl - car->spl_at_full_scale) / 20) / G_SQRT2 *
                   sqrt(1 - stream->rumble_keep * stream->rumble_keep);
  stream->noise.state = seed * 0x2545f4914f6cdd1du + 1;
}

CwPracticeStream *cw_practice_stream_new(const CwPracticeSetup *setup, double rate_hz, guint block,
                                         gsize delay_frames, guint32 used, guint seat, guint position,
                                         guint64 seed, GError **error)
{
  g_return_val_if_fail(setup != NULL && block > 0, NULL);
  if (!check_request(setup, rate_hz, seat, position, error))
    return NULL;
  CwPracticeStream *stream = g_new0(CwPracticeStream, 1);
  stream->setup = setup;
  stream->block = block;
  stream->outputs = cw_practice_setup_get_outputs(setup);
  stream->speakers = setup->car->speakers;
  stream->used = used;
  CwPracticePoint microphone = cw_practice_car_position(setup->car, seat, position);
  make_speakers(stream, setup, &microphone, rate_hz, seed);
  stream->driven = g_new0(double, (gsize)block * stream->speakers);
  stream->heard = g_new0(double, block);
  stream->clatter = g_new0(double, block);
  stream->late_frames = delay_frames;
  stream->late = g_new0(float, MAX(delay_frames, 1) * CW_PRACTICE_INPUTS);
  make_noise(stream, setup->car, rate_hz, seed);
  return stream;
}

void cw_practice_stream_free(CwPracticeStream *stream)
{
  if (!stream)
    return;
  for (guint i = 0; i < stream->speakers; i++)
    cw_practice_drive_free(stream->drive[i]);
  for (guint i = 0; i < stream->rattles; i++)
    cw_practice_rattle_free(stream->rattle[i]);
  cw_convolver_free(stream->convolver);
  g_free(stream->driven);
  g_free(stream->heard);
  g_free(stream->clatter);
  g_free(stream->late);
  g_free(stream);
}

void cw_practice_stream_set_quiet(CwPracticeStream *stream, gboolean quiet)
{
  stream->quiet = quiet;
}

/* Adds one processor output's signal before its settings. */
static void add_output(const CwPracticeStream *stream, const float *output, guint channel,
                       const CwPracticeSettings *settings, double *driven)
{
  for (guint frame = 0; frame < stream->block; frame++) {
    const float *at = output + (gsize)frame * stream->outputs;
    driven[frame] +=
        at[channel] + settings->left * at[stream->outputs - 2] + settings->right * at[stream->outputs - 1];
  }
}

/* What reaches each speaker: its own device output, and its share of the processor's inputs. */
static void drive_speakers(CwPracticeStream *stream, const float *output)
{
  const CwPracticeSetup *setup = stream->setup;
  for (guint i = 0; i < stream->speakers; i++) {
    if (!stream->drive[i]) {
      cw_convolver_put(stream->convolver, i, NULL);
      continue;
    }
    double *driven = stream->driven + (gsize)i * stream->block;
    memset(driven, 0, stream->block * sizeof *driven);
    for (guint channel = 0; channel < setup->car->outputs; channel++)
      if ((stream->wires[i] >> channel) & 1u)
        add_output(stream, output, channel, &setup->settings[channel], driven);
    cw_practice_drive_run(stream->drive[i], driven, stream->block);
    cw_convolver_put(stream->convolver, i, driven);
  }
  for (guint i = 0; i < stream->rattles; i++) {
    cw_practice_rattle_run(stream->rattle[i],
                           stream->driven + (gsize)stream->rattle_speaker[i] * stream->block, stream->clatter,
                           stream->block);
    cw_convolver_put(stream->convolver, stream->speakers + i, stream->clatter);
  }
}

static double next_noise(CwPracticeStream *stream)
{
  if (stream->quiet)
    return 0;
  stream->rumble_state =
      stream->rumble_keep * stream->rumble_state + stream->rumble * cw_practice_noise_next(&stream->noise);
  return stream->rumble_state + stream->hiss * cw_practice_noise_next(&stream->noise);
}

void cw_practice_stream_run(CwPracticeStream *stream, const float *output, float *input)
{
  drive_speakers(stream, output);
  cw_convolver_run(stream->convolver, stream->heard);
  for (guint frame = 0; frame < stream->block; frame++) {
    float cable = 0;
    for (guint i = 0; i < stream->outputs; i++)
      cable += output[(gsize)frame * stream->outputs + i];
    /* The noise is the recorder's: it is not late. */
    float now[CW_PRACTICE_INPUTS] = {(float)stream->heard[frame], cable}, out[CW_PRACTICE_INPUTS];
    float *late = stream->late + stream->late_at * CW_PRACTICE_INPUTS;
    memcpy(out, stream->late_frames > 0 ? late : now, sizeof out);
    memcpy(late, now, sizeof now);
    if (stream->late_frames > 0)
      stream->late_at = (stream->late_at + 1) % stream->late_frames;
    input[frame * CW_PRACTICE_INPUTS] = CLAMP(out[0] + (float)next_noise(stream), -1, 1);
    input[frame * CW_PRACTICE_INPUTS + 1] = CLAMP(out[1], -1, 1);
  }
}
