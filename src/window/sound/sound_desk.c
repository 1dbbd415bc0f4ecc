/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/sound/sound_desk.h"

/* Quiet enough for any speaker and ear to begin with; the simulated car cannot be harmed. */
#define FIRST_LEVEL_DBFS (-36.0)
#define PRACTICE_LEVEL_DBFS (-12.0)
#define LEAST_LEVEL_DBFS (-60.0)

struct _CwSoundDesk {
  GObject parent_instance;
  CwSoundClient *client;
  char *device;
  double level_dbfs;
  char *playing;
  gpointer ear;
};

G_DEFINE_FINAL_TYPE(CwSoundDesk, cw_sound_desk, G_TYPE_OBJECT)

static guint changed, stop_asked;

static void desk_finalize(GObject *object)
{
  CwSoundDesk *desk = CW_SOUND_DESK(object);
  g_clear_object(&desk->client);
  g_free(desk->device);
  g_free(desk->playing);
  G_OBJECT_CLASS(cw_sound_desk_parent_class)->finalize(object);
}

static void cw_sound_desk_class_init(CwSoundDeskClass *klass)
{
  G_OBJECT_CLASS(klass)->finalize = desk_finalize;
  changed = g_signal_new("changed", G_TYPE_FROM_CLASS(klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL,
                         G_TYPE_NONE, 0);
  stop_asked = g_signal_new("stop-asked", G_TYPE_FROM_CLASS(klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL,
                            G_TYPE_NONE, 0);
}

static void cw_sound_desk_init(CwSoundDesk *desk)
{
  desk->device = g_strdup(CW_SOUND_PRACTICE_DEVICE);
  desk->level_dbfs = PRACTICE_LEVEL_DBFS;
}

CwSoundDesk *cw_sound_desk_new(CwSoundClient *client)
{
  CwSoundDesk *desk = g_object_new(CW_TYPE_SOUND_DESK, NULL);
  desk->client = g_object_ref(client);
  return desk;
}

CwSoundClient *cw_sound_desk_get_client(CwSoundDesk *desk)
{
  return desk->client;
}

const char *cw_sound_desk_get_device(CwSoundDesk *desk)
{
  return desk->device;
}

const CwSoundDevice *cw_sound_desk_find_device(CwSoundDesk *desk)
{
  guint count;
  const CwSoundDevice *devices = cw_sound_client_get_devices(desk->client, &count);
  for (guint i = 0; i < count; i++)
    if (g_str_equal(devices[i].name, desk->device))
      return &devices[i];
  return NULL;
}

void cw_sound_desk_set_device(CwSoundDesk *desk, const char *device)
{
  if (g_str_equal(desk->device, device))
    return;
  g_free(desk->device);
  desk->device = g_strdup(device);
  desk->level_dbfs = cw_sound_desk_is_practice(desk) ? PRACTICE_LEVEL_DBFS : FIRST_LEVEL_DBFS;
  g_signal_emit(desk, changed, 0);
}

gboolean cw_sound_desk_is_practice(CwSoundDesk *desk)
{
  return g_str_equal(desk->device, CW_SOUND_PRACTICE_DEVICE);
}

double cw_sound_desk_get_level_dbfs(CwSoundDesk *desk)
{
  return desk->level_dbfs;
}

void cw_sound_desk_set_level_dbfs(CwSoundDesk *desk, double level_dbfs)
{
  level_dbfs = CLAMP(level_dbfs, LEAST_LEVEL_DBFS, CW_DESK_LIMIT_DBFS);
  if (level_dbfs == desk->level_dbfs)
    return;
  desk->level_dbfs = level_dbfs;
  g_signal_emit(desk, changed, 0);
}

const char *cw_sound_desk_get_playing(CwSoundDesk *desk)
{
  return desk->playing;
}

void cw_sound_desk_set_playing(CwSoundDesk *desk, const char *words)
{
  if (g_strcmp0(desk->playing, words) == 0)
    return;
  g_free(desk->playing);
  desk->playing = g_strdup(words);
  g_signal_emit(desk, changed, 0);
}

gpointer cw_sound_desk_get_ear(CwSoundDesk *desk)
{
  return desk->ear;
}

void cw_sound_desk_set_ear(CwSoundDesk *desk, gpointer ear)
{
  if (desk->ear == ear)
    return;
  desk->ear = ear;
  g_signal_emit(desk, changed, 0);
}

/* Silence first; then whoever is at work is told. */
void cw_sound_desk_stop(CwSoundDesk *desk)
{
  cw_sound_client_stop(desk->client);
  g_signal_emit(desk, stop_asked, 0);
}
