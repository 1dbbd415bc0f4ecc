/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the program and the sound helper say to each other over two pipes.
 *
 * A message is a 12-byte head and a payload. The head: four bytes "CWS1", kind (32 bits), payload length in
 * bytes (32 bits). All numbers are little-endian. A payload is the fields of its kind, in the order in which
 * the structs below list them. Every length, count and number has bounds, which both sides check: any
 * sequence of bytes is either a message or an error in words, and neither can make the reader allocate more
 * than one payload at a time.
 *
 * One conversation: both sides say hello. The program sends a heartbeat at least every 200 ms, the helper a
 * status at least every 100 ms. The program opens a device, announces a play and uploads its feed; the helper
 * starts when the feed is whole, sends the recording while it is made, and closes with `finished` or
 * `trouble`.
 */
#pragma once

#include "simulator/practice_error.h"

#include <glib.h>

#define CW_PROTOCOL_VERSION 1u
#define CW_MESSAGE_HEAD_BYTES 12u
#define CW_MESSAGE_PAYLOAD_MOST (256u * 1024u)

#define CW_SOUND_CHANNELS_MOST 32u
#define CW_SOUND_DEVICES_MOST 64u
/* Samples (frames times channels) in one feed or one recording: 128 MiB. */
#define CW_SOUND_SAMPLES_MOST (32u << 20)
/* Samples in one chunk of audio. */
#define CW_SOUND_CHUNK_SAMPLES_MOST 16384u
#define CW_SOUND_TEXT_MOST 1024u
#define CW_SOUND_PRACTICE_TEXT_MOST CW_PRACTICE_TEXT_MOST
#define CW_SOUND_RATE_LEAST_HZ CW_PRACTICE_RATE_LEAST_HZ
#define CW_SOUND_RATE_MOST_HZ CW_PRACTICE_RATE_MOST_HZ

/* The device name behind which the simulated vehicle stands. */
#define CW_SOUND_PRACTICE_DEVICE "practice-bay"

#define CW_SOUND_ERROR (cw_sound_error_quark())
typedef enum {
  CW_SOUND_ERROR_PROTOCOL, /* the other side said something that is not a message */
  CW_SOUND_ERROR_HELPER,   /* the helper could not be started, died, or does not answer */
  CW_SOUND_ERROR_DEVICE,   /* the device is missing, refused, or went away */
  CW_SOUND_ERROR_REQUEST,  /* what was asked for cannot be done as asked */
  CW_SOUND_ERROR_STOPPED,  /* stopped by the user before it was complete */
  CW_SOUND_ERROR_PRACTICE, /* the description of a practice car is wrong */
} CwSoundError;
GQuark cw_sound_error_quark(void);

typedef enum {
  CW_MESSAGE_HELLO = 1,  /* both ways, first */
  CW_MESSAGE_HEARTBEAT,  /* to the helper */
  CW_MESSAGE_LIST,       /* to the helper: which devices are there? */
  CW_MESSAGE_PRACTICE,   /* to the helper: set up the practice bay (JSON text, see practice_setup.h) */
  CW_MESSAGE_OPEN,       /* to the helper */
  CW_MESSAGE_PLAY,       /* to the helper: announces one play; its feed follows */
  CW_MESSAGE_FEED,       /* to the helper: the next chunk of the announced feed */
  CW_MESSAGE_LIVE,       /* to the helper: input stream on or off */
  CW_MESSAGE_STOP,       /* to the helper: fade to silence now */
  CW_MESSAGE_QUIT,       /* to the helper: fade to silence and leave */
  CW_MESSAGE_DEVICES,    /* from the helper: answers list */
  CW_MESSAGE_DONE,       /* from the helper: practice or open is done */
  CW_MESSAGE_STATUS,     /* from the helper, at least every 100 ms */
  CW_MESSAGE_RECORDING,  /* from the helper: the next chunk of what was recorded */
  CW_MESSAGE_LIVE_BLOCK, /* from the helper: input as it comes */
  CW_MESSAGE_FINISHED,   /* from the helper: the play is over */
  CW_MESSAGE_TROUBLE,    /* from the helper: what was asked for failed, in words */
  CW_MESSAGE_KINDS
} CwMessageKind;

typedef enum {
  CW_SOUND_CLOSED,  /* no device is open */
  CW_SOUND_BUSY,    /* a device is being listed, opened or closed */
  CW_SOUND_IDLE,    /* a device is open and silent */
  CW_SOUND_LOADING, /* a feed is being uploaded */
  CW_SOUND_PLAYING, /* playing, recording, or both */
  CW_SOUND_FADING,  /* on the way to silence */
  CW_SOUND_STATES
} CwSoundState;

typedef enum {
  CW_SOUND_COMPLETE,    /* everything was played and recorded */
  CW_SOUND_STOPPED,     /* stopped on request */
  CW_SOUND_ABANDONED,   /* the program stopped talking */
  CW_SOUND_DEVICE_GONE, /* the device stopped calling */
  CW_SOUND_ENDINGS
} CwSoundEnding;

typedef struct {
  char *name;  /* identifies the device when opening it; UTF-8, at most CW_SOUND_TEXT_MOST bytes */
  char *label; /* what people call it */
  guint32 inputs, outputs;
  double rate_hz;   /* the device's own default */
  guint32 practice; /* 1: a simulated vehicle, to be marked as such wherever the device is named */
} CwSoundDevice;

typedef struct {
  guint32 count;
  guint32 value[CW_SOUND_CHANNELS_MOST];
} CwChannelList;

typedef struct {
  guint32 count;
  double value[CW_SOUND_CHANNELS_MOST];
} CwChannelNumbers;

/* Interleaved samples, finite, full scale 1. */
typedef struct {
  guint32 first_frame;
  guint32 channels;
  guint32 frames;
  float *sample;
} CwAudioChunk;

typedef struct {
  guint32 version;
  char *program;
} CwMessageHello;

typedef struct {
  guint32 count;
} CwMessageHeartbeat;

typedef struct {
  guint32 serial;
  char *text;
} CwMessagePractice;

typedef struct {
  guint32 serial;
  char *device;       /* for the outputs, and for the inputs too unless ... */
  char *input_device; /* ... this is not empty */
  double rate_hz;
  guint32 inputs, outputs;
  guint32 block_frames;
} CwMessageOpen;

typedef struct {
  guint32 serial;
  guint32 feed_frames;         /* 0: record only */
  CwChannelList route;         /* for each channel of the feed: the device's output channel, from 0 */
  CwChannelNumbers protect_hz; /* for each channel of the feed: high-pass frequency, 0 for none */
  double gain_db;
  double limit_dbfs;     /* no sample leaves the helper above this */
  guint32 rise_ms;       /* from silence to full level at the start */
  guint32 loop;          /* 1: play until stopped */
  guint32 record_frames; /* 0: play only */
} CwMessagePlay;

typedef struct {
  guint32 serial;
  CwAudioChunk audio;
} CwMessageAudio;

typedef struct {
  guint32 on;
} CwMessageLive;

typedef struct {
  guint32 count;
  CwSoundDevice *device;
} CwMessageDevices;

typedef struct {
  guint32 serial;
  double rate_hz;
} CwMessageDone;

typedef struct {
  guint32 state;  /* CwSoundState */
  guint32 serial; /* of the play, 0 without one */
  guint32 position_frames;
  guint32 xruns;                /* gaps since the device was opened */
  CwChannelNumbers input_peak;  /* full scale 1, since the status before */
  CwChannelNumbers output_peak; /* likewise */
} CwMessageStatus;

typedef struct {
  guint32 serial;
  guint32 ending; /* CwSoundEnding */
  guint32 recorded_frames;
  guint32 xruns;           /* gaps during this play: a recording with any is not to be used */
  guint32 lost_frames;     /* recorded frames that could not be kept: likewise */
  guint32 limited_samples; /* samples that the level limit had to change: likewise */
} CwMessageFinished;

typedef struct {
  guint32 serial; /* of the request, 0 when it concerns the helper as a whole */
  guint32 code;   /* CwSoundError */
  char *text;     /* one line in words */
} CwMessageTrouble;

typedef struct {
  CwMessageKind kind;
  union {
    CwMessageHello hello;
    CwMessageHeartbeat heartbeat;
    CwMessagePractice practice;
    CwMessageOpen open;
    CwMessagePlay play;
    CwMessageAudio audio; /* feed, recording, live block */
    CwMessageLive live;
    CwMessageDevices devices;
    CwMessageDone done;
    CwMessageStatus status;
    CwMessageFinished finished;
    CwMessageTrouble trouble;
  };
} CwMessage;

/* Frees what the message owns and leaves it empty. A message from cw_message_parser_next() owns its texts,
 * samples and devices; one that the caller filled in for cw_message_encode() usually borrows them and is not
 * cleared. */
void cw_message_clear(CwMessage *message);

/* Appends the encoded message to `bytes`. A field out of its bounds is a programmer's mistake: it is reported
 * with g_critical(), nothing is appended and FALSE returned. */
gboolean cw_message_encode(const CwMessage *message, GByteArray *bytes);

/* The name of a kind ("open"), for error texts. */
const char *cw_message_kind_name(guint32 kind);

/* Takes a byte stream apart. */
typedef struct CwMessageParser CwMessageParser;
CwMessageParser *cw_message_parser_new(void);
void cw_message_parser_free(CwMessageParser *parser);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwMessageParser, cw_message_parser_free)

/* Adds bytes that arrived. The parser holds at most what was pushed and not yet taken as messages: take them
 * all before pushing more. */
void cw_message_parser_push(CwMessageParser *parser, const guint8 *bytes, gsize length);

/* Takes the next whole message. TRUE: `message` is filled and the caller clears it. FALSE without error: more
 * bytes are needed. FALSE with CW_SOUND_ERROR_PROTOCOL: the stream is not ours; the parser stays in that
 * state. */
gboolean cw_message_parser_next(CwMessageParser *parser, CwMessage *message, GError **error);
