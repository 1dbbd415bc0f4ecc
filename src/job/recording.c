/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/recording.h"
#include "job/input_file.h"
#include "signal/memory.h"
#include <fcntl.h>
#include <gio/gio.h>
#include <glib/gstdio.h>
#include <math.h>
#include <sndfile.h>
#include <string.h>
#include <unistd.h>

#define MOST_CHANNELS 32
#define LEAST_RATE_HZ 32000
#define MOST_RATE_HZ 192000
#define MOST_SECONDS 1800
#define BLOCK 4096

CwRecording *cw_recording_new(double rate_hz, guint channels, gsize frames)
{
  CwRecording *r = g_new0(CwRecording, 1);

  r->rate_hz = rate_hz;
  r->channels = channels;
  r->frames = frames;
  r->channel = g_new0(double *, channels);
  for (guint c = 0; c < channels; c++)
    r->channel[c] = cw_alloc_real(frames);
  return r;
}

void cw_recording_free(CwRecording *r)
{
  if (!r)
    return;
  for (guint c = 0; c < r->channels; c++)
    cw_free(r->channel[c]);
  g_free(r->channel);
  g_free(r);
}

CwRecording *cw_recording_from_floats(double rate_hz, guint channels, gsize frames, const float *interleaved)
{
  CwRecording *r = cw_recording_new(rate_hz, channels, frames);

  for (gsize i = 0; i < frames; i++)
    for (guint c = 0; c < channels; c++)
      r->channel[c][i] = interleaved[i * channels + c];
  return r;
}

/* Only plain formats: the more exotic a decoder, the less it has been tried on broken files. */
static gboolean acceptable(const SF_INFO *info, const char *path, GError **error)
{
  int type = info->format & SF_FORMAT_TYPEMASK, coding = info->format & SF_FORMAT_SUBMASK;

  if (type != SF_FORMAT_WAV && type != SF_FORMAT_WAVEX && type != SF_FORMAT_RF64)
    return cw_job_refuse(error, CW_JOB_ERROR_RECORDING, "%s: not a WAV file", path);
  if (coding != SF_FORMAT_PCM_16 && coding != SF_FORMAT_PCM_24 && coding != SF_FORMAT_PCM_32 &&
      coding != SF_FORMAT_FLOAT && coding != SF_FORMAT_DOUBLE)
    return cw_job_refuse(error, CW_JOB_ERROR_RECORDING,
                         "%s: a WAV file of 16, 24 or 32 bit or float was expected", path);
  if (info->channels < 1 || info->channels > MOST_CHANNELS)
    return cw_job_refuse(error, CW_JOB_ERROR_RECORDING, "%s: %d channels; 1 to %d were expected", path,
                         info->channels, MOST_CHANNELS);
  if (info->samplerate < LEAST_RATE_HZ || info->samplerate > MOST_RATE_HZ)
    return cw_job_refuse(error, CW_JOB_ERROR_RECORDING, "%s: a sample rate of %d Hz; %d to %d were expected",
                         path, info->samplerate, LEAST_RATE_HZ, MOST_RATE_HZ);
  if (info->frames < 1)
    return cw_job_refuse(error, CW_JOB_ERROR_RECORDING, "%s: holds no samples", path);
  if (info->frames > (sf_count_t)MOST_SECONDS * info->samplerate)
    return cw_job_refuse(error, CW_JOB_ERROR_RECORDING, "%s: longer than %d minutes", path,
                         MOST_SECONDS / 60);
  return TRUE;
}

static gboolean read_samples(SNDFILE *file, CwRecording *r, const char *path, GError **error)
{
  g_autofree double *block = g_new(double, (gsize)BLOCK * r->channels);
  gsize done = 0;

  while (done < r->frames) {
    sf_count_t got = sf_readf_double(file, block, MIN(BLOCK, (sf_count_t)(r->frames - done)));
    if (got <= 0)
      return cw_job_refuse(error, CW_JOB_ERROR_RECORDING,
                           "%s: cut off: %" G_GSIZE_FORMAT " of %" G_GSIZE_FORMAT " frames are there", path,
                           done, r->frames);
    for (sf_count_t i = 0; i < got; i++)
      for (guint c = 0; c < r->channels; c++) {
        double value = block[(gsize)i * r->channels + c];
        if (!isfinite(value))
          return cw_job_refuse(error, CW_JOB_ERROR_RECORDING, "%s: frame %" G_GSIZE_FORMAT " is not a number",
                               path, done + (gsize)i);
        r->channel[c][done + (gsize)i] = value;
      }
    done += (gsize)got;
  }
  return TRUE;
}

/* A header that promises more than the file holds: libsndfile shortens the count in silence, so the promise
 * is read here. */
static gboolean check_whole(const char *path, GError **error)
{
  guint8 head[12] = {0};
  g_autoptr(GMappedFile) map = g_mapped_file_new(path, FALSE, NULL);
  gsize length = map ? g_mapped_file_get_length(map) : 0;
  const guint8 *bytes = map ? (const guint8 *)g_mapped_file_get_contents(map) : head;

  if (length < 12 || memcmp(bytes, "RIFF", 4) != 0 || memcmp(bytes + 8, "WAVE", 4) != 0)
    return TRUE; /* RF64 and others: libsndfile decides */
  for (gsize at = 12; at + 8 <= length;) {
    guint32 size = bytes[at + 4] | bytes[at + 5] << 8 | bytes[at + 6] << 16 | (guint32)bytes[at + 7] << 24;
    if (memcmp(bytes + at, "data", 4) == 0) {
      if (size != G_MAXUINT32 && (gsize)size > length - at - 8)
        return cw_job_refuse(error, CW_JOB_ERROR_RECORDING,
                             "%s: cut off: %" G_GSIZE_FORMAT " of %u bytes of samples are there", path,
                             length - at - 8, size);
      return TRUE;
    }
    at += 8 + (gsize)size + (size & 1);
  }
  return TRUE;
}

CwRecording *cw_recording_read(const char *path, GError **error)
{
  SF_INFO info = {0};
  SNDFILE *file;
  CwRecording *r = NULL;

  if (!cw_input_is_plain(path, error))
    return NULL;
  file = sf_open(path, SFM_READ, &info);
  if (!file) {
    g_autofree char *why = g_strstrip(g_strdup(sf_strerror(NULL)));
    cw_job_refuse(error, CW_JOB_ERROR_RECORDING, "%s: not a WAV file (%s)", path, why);
    return NULL;
  }
  if (acceptable(&info, path, error) && check_whole(path, error)) {
    r = cw_recording_new(info.samplerate, (guint)info.channels, (gsize)info.frames);
    if (!read_samples(file, r, path, error))
      g_clear_pointer(&r, cw_recording_free);
  }
  sf_close(file);
  return r;
}

static gboolean write_samples(SNDFILE *file, const CwRecording *r)
{
  g_autofree double *block = g_new(double, (gsize)BLOCK * r->channels);

  for (gsize done = 0; done < r->frames; done += BLOCK) {
    gsize count = MIN(BLOCK, r->frames - done);
    for (gsize i = 0; i < count; i++)
      for (guint c = 0; c < r->channels; c++)
        block[i * r->channels + c] = CLAMP(r->channel[c][done + i], -1, 1);
    if (sf_writef_double(file, block, (sf_count_t)count) != (sf_count_t)count)
      return FALSE;
  }
  return TRUE;
}

/* The samples with their header, in a descriptor that stays open. */
static gboolean write_wav(int descriptor, const CwRecording *r, int bits)
{
  SF_INFO info = {.samplerate = (int)lrint(r->rate_hz),
                  .channels = (int)r->channels,
                  .format = SF_FORMAT_WAV | (bits == 16 ? SF_FORMAT_PCM_16 : SF_FORMAT_PCM_24)};
  SNDFILE *file = sf_open_fd(descriptor, SFM_WRITE, &info, FALSE);
  gboolean written;

  if (!file)
    return FALSE;
  /* By this it is known again as one that may be replaced. */
  sf_set_string(file, SF_STR_SOFTWARE, "Cabinwright");
  written = write_samples(file, r);
  return sf_close(file) == 0 && written;
}

gboolean cw_recording_write(const CwRecording *r, const char *path, int bits, CwReplace replace,
                            GError **error)
{
  g_autofree char *place = cw_output_place(path);
  int descriptor;

  if (!cw_output_allowed(path, "RIFF", 4, replace, error))
    return FALSE;
  errno = 0;
  descriptor = cw_output_open(place);
  if (descriptor >= 0 && write_wav(descriptor, r, bits)) {
    if (cw_output_finish(descriptor, place))
      return TRUE;
  } else if (descriptor >= 0) {
    int fault = errno;
    cw_output_abandon(descriptor, place);
    errno = fault;
  }
  return cw_job_refuse(error, CW_JOB_ERROR_RECORDING, "%s: cannot be written: %s", path,
                       errno ? g_strerror(errno) : "the disk may be full");
}
