/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Files up to version 2 kept of a feed only from what limits of the speakers it had been designed, and
 * designed it anew whenever it was needed. Here stands that design as it was, to be written down once; it
 * never changes. */
#include "vehicle/json/document.h"
#include "vehicle/json/json_scan.h"
#include "vehicle/json/json_write.h"
#include "vehicle/kinds/kinds.h"
#include "vehicle/project/project_private.h"
#include "vehicle/record/record_private.h"

#include <math.h>
#include <string.h>

#define GROWTH_SECONDS 0.85
#define TOP_HZ 21500.0
#define SILENCE_SECONDS 0.5
#define TAIL_SECONDS 0.75
#define MARKER_SECONDS 0.12
#define MARKER_REST_SECONDS 0.4
#define MARKER_TOP_HZ 17000.0

static double whole(double seconds)
{
  return ceil(seconds * 100) / 100;
}

/* The sweep and its repeats; returns when the last tail ends. */
static double set_sweep(CwRecord *feed, double lowest_hz, double sweep_at)
{
  double rate_hz = cw_feed_get_rate_hz(feed), stop_hz = fmin(TOP_HZ, 0.45 * rate_hz),
         start_hz = fmin(fmax(lowest_hz / 2, 8), stop_hz / 4),
         growth = fmax(1, rint(start_hz * GROWTH_SECONDS)) / start_hz,
         seconds = growth * log(stop_hz / start_hz), period = whole(seconds + TAIL_SECONDS);
  gint64 repeats = cw_feed_get_repeats(feed);
  cw_feed_set_start_hz(feed, start_hz);
  cw_feed_set_stop_hz(feed, stop_hz);
  cw_feed_set_seconds(feed, seconds);
  cw_feed_set_growth_s(feed, growth);
  cw_feed_set_protect_hz(feed, lowest_hz);
  cw_feed_set_protect_order(feed, 4);
  cw_feed_set_fade_in_octaves(feed, 1.0 / 6);
  cw_feed_set_fade_out_octaves(feed, 1.0 / 24);
  cw_feed_set_silence_s(feed, sweep_at);
  cw_feed_set_period_s(feed, period);
  return sweep_at + (repeats > 1 ? (double)repeats * period : seconds + TAIL_SECONDS);
}

static void set_marker(CwRecord *feed, double lowest_hz, double second_at)
{
  cw_feed_set_marker_level_dbfs(feed, cw_feed_get_level_dbfs(feed));
  cw_feed_set_marker_low_hz(feed, fmin(fmax(1.15 * lowest_hz, 500), 9000));
  cw_feed_set_marker_high_hz(feed, MARKER_TOP_HZ);
  cw_feed_set_marker_s(feed, MARKER_SECONDS);
  cw_feed_set_marker_fade(feed, 0.1);
  cw_feed_set_first_marker_s(feed, SILENCE_SECONDS);
  cw_feed_set_second_marker_s(feed, second_at);
}

/* marker_lowest_hz is 0 for a feed without marker. */
static void write_down(CwRecord *feed, double lowest_hz, double marker_lowest_hz)
{
  double sweep_at = SILENCE_SECONDS;
  if (marker_lowest_hz > 0)
    sweep_at = SILENCE_SECONDS + MARKER_SECONDS + MARKER_REST_SECONDS;
  double end = set_sweep(feed, lowest_hz, sweep_at);
  if (marker_lowest_hz > 0) {
    end = whole(end);
    set_marker(feed, marker_lowest_hz, end);
    end = end + MARKER_SECONDS + MARKER_REST_SECONDS;
  }
  cw_feed_set_length_s(feed, end);
  cw_feed_set_tail_s(feed, end - sweep_at - cw_feed_get_seconds(feed));
}

/* The limits that the feed was designed from. */
static gboolean read_limits(const char *layout, double *lowest_hz, double *marker_lowest_hz)
{
  CwScan *scan = cw_scan_new(layout, -1);
  const char *key;
  *lowest_hz = *marker_lowest_hz = 0;
  if (cw_scan_begin_object(scan))
    while ((key = cw_scan_next_key(scan)) != NULL) {
      g_autoptr(GString) other = g_string_new(NULL);
      if (strcmp(key, "lowest_hz") == 0)
        *lowest_hz = cw_scan_number(scan);
      else if (strcmp(key, "marker_lowest_hz") == 0)
        *marker_lowest_hz = cw_scan_number(scan);
      else
        cw_scan_anything(scan, other);
    }
  return cw_scan_finish(scan, NULL) && *lowest_hz > 0;
}

/* Takes the member "layout", which the table does not know any more, out of what is not known of a feed; NULL
 * where it has none. The caller frees it. */
static char *take_layout(CwRecord *feed)
{
  const char *unknown = cw_record_inside(feed)->unknown, *key;
  g_autofree char *object = g_strdup_printf("{%s}", unknown ? unknown : "");
  g_autoptr(GString) rest = g_string_new(NULL), layout = g_string_new(NULL);
  CwScan *scan = cw_scan_new(object, -1);
  if (cw_scan_begin_object(scan))
    while ((key = cw_scan_next_key(scan)) != NULL) {
      if (strcmp(key, "layout") == 0) {
        cw_scan_anything(scan, layout);
        continue;
      }
      g_string_append(rest, rest->len ? "," : "");
      cw_append_json_text(rest, key);
      g_string_append_c(rest, ':');
      cw_scan_anything(scan, rest);
    }
  if (!cw_scan_finish(scan, NULL) || !layout->len)
    return NULL;
  cw_record_set_unknown(feed, rest->len ? rest->str : NULL);
  return g_strdup(layout->str);
}

char *cw_feeds_from_2_to_3(const char *json)
{
  g_autoptr(CwRecord) vehicle = cw_record_from_json(cw_vehicle_get_type(), json, -1, NULL);
  CwList *feeds = vehicle ? cw_vehicle_get_feeds(vehicle) : NULL;
  gboolean any = FALSE;
  for (guint i = 0; feeds && i < cw_list_get_length(feeds); i++) {
    double lowest_hz, marker_lowest_hz;
    g_autofree char *layout = take_layout(cw_list_get(feeds, i));
    any |= layout != NULL;
    if (layout && read_limits(layout, &lowest_hz, &marker_lowest_hz))
      write_down(cw_list_get(feeds, i), lowest_hz, marker_lowest_hz);
  }
  if (!any)
    return NULL;
  gboolean takes = cw_list_get_length(cw_vehicle_get_takes(vehicle)) > 0;
  GString *text = g_string_new(NULL);
  cw_record_append_json(text, vehicle, takes ? NULL : "takes");
  return g_string_free(text, FALSE);
}
