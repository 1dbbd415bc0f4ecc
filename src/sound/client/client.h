/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The sound client: what the programs use to play and record. It starts the sound helper (a process of its
 * own), speaks to it over pipes and never waits for it. A helper that dies, hangs for a second or talks
 * nonsense is told in words, killed and started anew.
 *
 * A client belongs to the main context that was the thread's default when it was made: call it from that
 * thread and have that context run (the blocking call runs it itself). cw_sound_client_stop() alone may be
 * called from any thread. The heartbeat runs there too, on purpose: when the window hangs, nobody can press
 * Stop, and the helper fades to silence.
 *
 * Signals (all in that context):
 *   devices-changed ()                        the list of devices is new
 *   state-changed ()                          cw_sound_client_get_state() is new
 *   levels (const CwSoundLevels *)            about ten times a second while a device is open
 *   live-block (const CwAudioChunk *)         input as it comes, while listening and while a job that is
 * heard plays failed (const char *words)                helper or device failed; words are one line for
 * people
 */
#pragma once

#include "sound/protocol.h"

#include <gio/gio.h>

typedef struct {
  CwSoundState state;
  guint32 position_frames; /* of the play */
  guint32 total_frames;    /* of the play, 0 for a loop */
  guint32 xruns;
  CwChannelNumbers input_peak;  /* full scale 1, since the signal before */
  CwChannelNumbers output_peak; /* what leaves the helper, limit and protection included */
} CwSoundLevels;

/* One thing to play and record. Begin from cw_sound_job_init(). */
typedef struct {
  const char *device; /* a name from the list, CW_SOUND_PRACTICE_DEVICE for the practice bay */
  const char
      *input_device;    /* where the inputs are another device (a microphone with its own plug), else NULL */
  double rate_hz;       /* 8000 to 192000 */
  guint32 block_frames; /* what the device is asked to take at a time, a power of two; 512 */

  /* What to play: feed_frames frames of route.count interleaved channels, full scale 1. Channel k goes to the
   * device's output route.value[k] (from 0). NULL: record only. The first rise_ms (at least 50) are
   * faded in and the last 25 ms faded out, so a measuring feed begins and ends with that much silence. */
  const float *feed;
  gsize feed_frames;
  CwChannelList route;
  CwChannelNumbers protect_hz; /* high-pass for each channel, 24 dB per octave, 0 for none; count may be 0 */
  double gain_db;              /* to the whole feed */
  double limit_dbfs; /* highest sample that may leave; a feed whose peak would lie above is refused */
  guint32 rise_ms;
  gboolean loop; /* until stopped; record_frames must be 0 */

  /* What to record: the device's first `inputs` channels. Frame 0 is taken at the instant at which frame 0 of
   * the feed is handed over; the latency of the way out and back is in the recording and never corrected. */
  guint32 inputs;
  gsize record_frames;
  gboolean heard; /* its input comes as live-block too, while it plays */
  /* For listening alone: how many of the device's outputs to open besides. Routes are counted by themselves.
   */
  guint32 outputs;
} CwSoundJob;

/* Fills in: the practice bay, 48 kHz, blocks of 512, nothing to play or record, 0 dB gain, limit -6 dBFS,
 * rise 50 ms. */
void cw_sound_job_init(CwSoundJob *job);

/* What came of a job. */
typedef struct {
  float *sample; /* frames times channels, interleaved, full scale 1; NULL when nothing was recorded */
  gsize frames;
  guint channels;
  double rate_hz;          /* at which the device says it ran */
  guint32 xruns;           /* gaps while playing */
  guint32 lost_frames;     /* frames that could not be kept */
  guint32 limited_samples; /* samples that the limit had to change */
} CwSoundTake;

/* Frees a take with its samples; NULL is let pass. */
void cw_sound_take_free(CwSoundTake *take);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwSoundTake, cw_sound_take_free)

/* FALSE when the take has gaps or was limited, so that it must not be used; `reason` (may be NULL) then says
 * so in words, owned by the caller. */
gboolean cw_sound_take_is_whole(const CwSoundTake *take, char **reason);

#define CW_TYPE_SOUND_CLIENT (cw_sound_client_get_type())
G_DECLARE_FINAL_TYPE(CwSoundClient, cw_sound_client, CW, SOUND_CLIENT, GObject)

/* A client. helper_path NULL: the environment's CABINWRIGHT_SOUND_HELPER, else `cabinwright-sound` beside the
 * running program, else in the installed libexec folder. Nothing is started before it is needed. Ignores
 * SIGPIPE from then on. */
CwSoundClient *cw_sound_client_new(const char *helper_path);

/* Sets up the practice bay: JSON text as in practice_setup.h, NULL for the Alder Tourer. Kept, and told to
 * every helper that is started. A wrong text is reported by the next job in the bay. */
void cw_sound_client_set_practice(CwSoundClient *client, const char *setup);

/* The list of devices: starts a helper anew (so that plugged and pulled devices are seen) and asks it. Not
 * while something plays. Also emits devices-changed. */
void cw_sound_client_refresh_async(CwSoundClient *client, GCancellable *cancellable,
                                   GAsyncReadyCallback callback, gpointer user_data);
gboolean cw_sound_client_refresh_finish(CwSoundClient *client, GAsyncResult *result, GError **error);

/* The devices of the last refresh; owned by the client, valid until the next. The practice bay is among them.
 */
const CwSoundDevice *cw_sound_client_get_devices(CwSoundClient *client, guint *count);

/* Whether the helper runs, starts, or failed; never waits. */
CwSoundState cw_sound_client_get_state(CwSoundClient *client);

/* Plays and records. The job is copied, its feed is not: it must stay until the callback. One job at a time.
 * Cancelling is the same as cw_sound_client_stop() and ends with CW_SOUND_ERROR_STOPPED (a looping job ends
 * without error). The take is the caller's; check cw_sound_take_is_whole(). */
void cw_sound_client_play_async(CwSoundClient *client, const CwSoundJob *job, GCancellable *cancellable,
                                GAsyncReadyCallback callback, gpointer user_data);
CwSoundTake *cw_sound_client_play_finish(CwSoundClient *client, GAsyncResult *result, GError **error);

/* Opens the job's device and sends its inputs as live-block until cw_sound_client_unlisten(), a failure, or a
 * job on another device. Jobs on the same device, rate and channels run while listening. */
void cw_sound_client_listen_async(CwSoundClient *client, const CwSoundJob *job, GCancellable *cancellable,
                                  GAsyncReadyCallback callback, gpointer user_data);
gboolean cw_sound_client_listen_finish(CwSoundClient *client, GAsyncResult *result, GError **error);
void cw_sound_client_unlisten(CwSoundClient *client);

/* Silence within 50 ms (plus what the device itself has buffered). Does nothing when nothing plays. From any
 * thread. */
void cw_sound_client_stop(CwSoundClient *client);

/* The blocking form for the console program: runs the client's context until the job is over. NULL with
 * error, or the take, the caller's. */
CwSoundTake *cw_sound_play_and_record(CwSoundClient *client, const CwSoundJob *job, GError **error);
