/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of fields behind the protocol: shared by its writing and its reading, and by nothing else. */
#pragma once

#include "sound/protocol.h"

#define CW_PROTOCOL_MAGIC 0x31535743u /* "CWS1" */

/* Every kind is one row of fields; encoding, decoding, bounds and freeing all follow from it. */
typedef enum {
  FIELD_COUNT,
  FIELD_NUMBER,
  FIELD_TEXT,
  FIELD_CHANNELS,
  FIELD_NUMBERS,
  FIELD_AUDIO,
  FIELD_DEVICES
} CwProtocolFieldType;

typedef struct {
  const char *name;
  CwProtocolFieldType type;
  gsize offset;       /* in CwMessage */
  double least, most; /* of the number, or of each number in a list; of a text: its bytes */
} CwProtocolField;

typedef struct {
  const char *name;
  const CwProtocolField *field;
  gsize fields;
} CwProtocolKind;

/* The row of a known kind. */
const CwProtocolKind *cw_protocol_kind(guint32 kind);

/* Whether a number is within the field's bounds; never, when it is not a number. */
gboolean cw_protocol_within(const CwProtocolField *field, double value);
