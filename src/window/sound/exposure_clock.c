/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/sound/exposure_clock.h"

#include "job/sheet/sound_level.h"
#include "signal/live/sound_meter.h"
#include "window/state/settings.h"
#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define SLOW_SECONDS 1.0
#define KEPT_EVERY_SECONDS 5.0 /* a power cut costs no more than that */
#define SINE_DB 3.0103         /* the sheet's level is of a sine that fills the recorder */
#define LOUD_DBA 80.0          /* below, both rules count nothing */

struct _CwExposureClock {
  GObject parent_instance;
  CwSoundDesk *desk; /* which owns the clock */
  GWeakRef session;
  CwExposure today;
  char *day; /* "2026-03-01", local time */
  CwSoundMeter meter;
  double level_dba, unkept_seconds; /* level of the last second; NAN for none */
  gboolean told;
};

G_DEFINE_FINAL_TYPE(CwExposureClock, cw_exposure_clock, G_TYPE_OBJECT)

static guint changed;

static void clock_finalize(GObject *object)
{
  CwExposureClock *clock = CW_EXPOSURE_CLOCK(object);
  g_weak_ref_clear(&clock->session);
  g_free(clock->day);
  G_OBJECT_CLASS(cw_exposure_clock_parent_class)->finalize(object);
}

static void cw_exposure_clock_class_init(CwExposureClockClass *klass)
{
  G_OBJECT_CLASS(klass)->finalize = clock_finalize;
  changed = g_signal_new("changed", G_TYPE_FROM_CLASS(klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL,
                         G_TYPE_NONE, 0);
}

static void cw_exposure_clock_init(CwExposureClock *clock)
{
  g_weak_ref_init(&clock->session, NULL);
  clock->level_dba = NAN;
}

static char *name_today(void)
{
  g_autoptr(GDateTime) now = g_date_time_new_now_local();
  return g_date_time_format(now, "%Y-%m-%d");
}

/* "2026-03-01 seconds NIOSH OSHA", the last two in per cent. */
static void keep(CwExposureClock *clock)
{
  char numbers[3][G_ASCII_DTOSTR_BUF_SIZE];
  const double values[] = {clock->today.seconds, clock->today.niosh_percent, clock->today.osha_percent};
  for (guint i = 0; i < G_N_ELEMENTS(values); i++)
    g_ascii_formatd(numbers[i], sizeof numbers[i], "%.6f", values[i]);
  g_autofree char *text = g_strdup_printf("%s %s %s %s", clock->day, numbers[0], numbers[1], numbers[2]);
  if (cw_settings_get())
    g_settings_set_string(cw_settings_get(), "exposure", text);
  clock->unkept_seconds = 0;
}

/* What the settings hold of today; anybody can have written them. */
static void recall(CwExposureClock *clock)
{
  g_autofree char *text = cw_settings_get() ? g_settings_get_string(cw_settings_get(), "exposure") : NULL;
  g_auto(GStrv) words = g_strsplit(text ? text : "", " ", 5);
  double value[3];
  g_free(clock->day);
  clock->day = name_today();
  clock->today = (CwExposure){0};
  if (g_strv_length(words) != 4 || !g_str_equal(words[0], clock->day))
    return;
  for (guint i = 0; i < 3; i++) {
    value[i] = g_ascii_strtod(words[i + 1], NULL);
    if (!(value[i] >= 0 && value[i] < 1e6))
      return;
  }
  clock->today = (CwExposure){value[0], value[1], value[2]};
}

static double spl_at_mean_square_one(CwExposureClock *clock)
{
  g_autoptr(CwSession) session = g_weak_ref_get(&clock->session);
  CwRecord *vehicle = session ? cw_session_get_vehicle(session) : NULL;
  CwRecord *microphone = vehicle ? cw_vehicle_get_microphone(vehicle) : NULL;
  return microphone ? cw_microphone_get_spl_at_full_scale(microphone) + SINE_DB : (double)NAN;
}

/* Once a day, when the stricter rule's allowance is used up. */
static void tell_full(CwExposureClock *clock)
{
  g_autoptr(CwSession) session = g_weak_ref_get(&clock->session);
  if (clock->told || clock->today.niosh_percent < 100 || !session)
    return;
  clock->told = TRUE;
  cw_session_tell(
      session, CW_TOLD_ATTEND,
      _("The noise of today has used up what NIOSH allows in a day. Wear hearing protection, play more "
        "quietly, or go on tomorrow."));
}

static void count_second(CwExposureClock *clock)
{
  double seconds,
      level = cw_sound_meter_take(&clock->meter, CW_METER_A, &seconds) + spl_at_mean_square_one(clock);
  g_autofree char *day = name_today();
  clock->level_dba = level;
  if (!g_str_equal(day, clock->day)) {
    recall(clock);
    clock->told = FALSE;
  }
  if (isfinite(level)) {
    cw_exposure_add(&clock->today, level, seconds);
    clock->unkept_seconds += seconds;
  }
  if (clock->unkept_seconds >= KEPT_EVERY_SECONDS)
    keep(clock);
  tell_full(clock);
  g_signal_emit(clock, changed, 0);
}

static void on_live_block(CwExposureClock *clock, const CwAudioChunk *chunk)
{
  const CwSoundDevice *device = cw_sound_desk_find_device(clock->desk);
  if (!chunk->channels || cw_sound_desk_is_practice(clock->desk))
    return;
  double rate_hz = device && device->rate_hz > 0 ? device->rate_hz : 48000;
  if (clock->meter.rate_hz != rate_hz)
    cw_sound_meter_init(&clock->meter, rate_hz, SLOW_SECONDS);
  cw_sound_meter_run(&clock->meter, chunk->sample, chunk->channels, chunk->frames);
  if (clock->meter.seconds >= 1)
    count_second(clock);
}

/* What played last for less than a second counts too, and all is kept. */
static void on_state_changed(CwExposureClock *clock, CwSoundClient *client)
{
  CwSoundState state = cw_sound_client_get_state(client);
  if (state != CW_SOUND_IDLE && state != CW_SOUND_CLOSED)
    return;
  if (clock->meter.seconds > 0)
    count_second(clock);
  if (clock->unkept_seconds > 0)
    keep(clock);
}

CwExposureClock *cw_exposure_clock_at(CwSoundDesk *desk)
{
  CwExposureClock *clock = g_object_get_data(G_OBJECT(desk), "exposure-clock");
  if (clock)
    return clock;
  clock = g_object_new(CW_TYPE_EXPOSURE_CLOCK, NULL);
  clock->desk = desk;
  recall(clock);
  clock->told = clock->today.niosh_percent >= 100;
  g_object_set_data_full(G_OBJECT(desk), "exposure-clock", clock, g_object_unref);
  CwSoundClient *client = cw_sound_desk_get_client(desk);
  g_signal_connect_object(client, "live-block", G_CALLBACK(on_live_block), clock, G_CONNECT_SWAPPED);
  g_signal_connect_object(client, "state-changed", G_CALLBACK(on_state_changed), clock, G_CONNECT_SWAPPED);
  return clock;
}

void cw_exposure_clock_set_session(CwExposureClock *clock, CwSession *session)
{
  g_weak_ref_set(&clock->session, session);
}

const CwExposure *cw_exposure_clock_get_today(CwExposureClock *clock)
{
  return &clock->today;
}

static char *say(CwExposureClock *clock)
{
  if (cw_sound_desk_is_practice(clock->desk))
    return g_strdup(_("Noise today: nothing real sounds in the practice bay."));
  if (isnan(spl_at_mean_square_one(clock)))
    return g_strdup(_("Noise today: not counted, as the microphone's level is not calibrated."));
  double level = fmax(isnan(clock->level_dba) ? LOUD_DBA : clock->level_dba, LOUD_DBA);
  g_autofree char *used = cw_job_say_exposure(&clock->today, level);
  /* Translators: after the colon comes how much of a day's allowance of noise is used up by two rules. */
  return g_strdup_printf(_("Noise today, at %.0f dB(A): %s"), level, used);
}

static void show(GtkWidget *label, CwExposureClock *clock)
{
  g_autofree char *words = say(clock);
  gtk_label_set_text(GTK_LABEL(label), words);
}

static void on_changed(GtkWidget *label)
{
  show(label, g_object_get_data(G_OBJECT(label), "clock"));
}

GtkWidget *cw_exposure_label_new(CwSession *session, CwSoundDesk *desk)
{
  GtkWidget *label = cw_dim_text(NULL);
  CwExposureClock *clock = cw_exposure_clock_at(desk);
  cw_exposure_clock_set_session(clock, session);
  g_object_set_data_full(G_OBJECT(label), "clock", g_object_ref(clock), g_object_unref);
  gtk_widget_set_tooltip_text(
      label,
      _("What the microphone hears while something plays or is listened to, added up over the day. NIOSH "
        "allows 8 hours at 85 dB(A) and half of that for every 3 dB more, OSHA 8 hours at 90 dB(A) and half "
        "for every 5 dB more; go by the stricter one, NIOSH. Below 80 dB(A) nothing counts."));
  g_signal_connect_object(clock, "changed", G_CALLBACK(on_changed), label, G_CONNECT_SWAPPED);
  g_signal_connect_object(desk, "changed", G_CALLBACK(on_changed), label, G_CONNECT_SWAPPED);
  show(label, clock);
  return label;
}
