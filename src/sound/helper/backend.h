/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What drives an engine: a real sound system or the practice bay. All functions may take long or hang; they
 * run in the helper's device thread and nowhere else.
 */
#pragma once

#include "sound/engine/engine.h"

typedef struct {
  /* Appends the devices (CwSoundDevice, texts owned by the array's receiver). FALSE with
   * CW_SOUND_ERROR_DEVICE. */
  gboolean (*list)(GArray *devices, GError **error);
  /* Opens and starts: from now on the engine is processed at rate_hz. Returns the stream, or NULL with
   * CW_SOUND_ERROR_DEVICE. The engine is borrowed until close has returned. */
  gpointer (*open)(const CwMessageOpen *open, CwEngine *engine, GError **error);
  /* Stops and closes: the engine is not processed any more once this has returned. */
  void (*close)(gpointer stream);
} CwBackend;

extern const CwBackend cw_portaudio_backend;
extern const CwBackend cw_practice_backend;

/* Sets up what the practice backend opens next (JSON text, see practice_setup.h). FALSE with
 * CW_SOUND_ERROR_PRACTICE. */
gboolean cw_practice_backend_set_up(const char *text, GError **error);
