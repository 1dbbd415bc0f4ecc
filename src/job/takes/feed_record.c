/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/takes/feed_record.h"
#include <math.h>

static void write_marker(CwRecord *record, const CwSweepFeed *feed, double level_dbfs)
{
  gboolean any = feed->has_marker;

  cw_feed_set_marker_level_dbfs(record, any ? level_dbfs : NAN);
  cw_feed_set_marker_low_hz(record, any ? feed->marker.low_hz : NAN);
  cw_feed_set_marker_high_hz(record, any ? feed->marker.high_hz : NAN);
  cw_feed_set_marker_s(record, any ? feed->marker.seconds : NAN);
  cw_feed_set_marker_fade(record, any ? feed->marker.fade_part : NAN);
  cw_feed_set_first_marker_s(record, any ? feed->first_marker_at : NAN);
  cw_feed_set_second_marker_s(record, any ? feed->second_marker_at : NAN);
}

void cw_feed_write(CwRecord *record, const CwSweepFeed *feed, double rate_hz, double level_dbfs)
{
  const CwSweep *sweep = &feed->sweep;

  cw_feed_set_start_hz(record, sweep->start_hz);
  cw_feed_set_stop_hz(record, sweep->stop_hz);
  cw_feed_set_seconds(record, sweep->seconds);
  cw_feed_set_growth_s(record, sweep->growth_seconds);
  cw_feed_set_protect_hz(record, sweep->protect_hz);
  cw_feed_set_protect_order(record, sweep->protect_order);
  cw_feed_set_fade_in_octaves(record, sweep->fade_in_octaves);
  cw_feed_set_fade_out_octaves(record, sweep->fade_out_octaves);
  cw_feed_set_level_dbfs(record, level_dbfs);
  cw_feed_set_rate_hz(record, rate_hz);
  cw_feed_set_repeats(record, feed->repeats);
  cw_feed_set_silence_s(record, feed->sweep_at);
  cw_feed_set_tail_s(record, feed->seconds - feed->sweep_at - sweep->seconds);
  cw_feed_set_period_s(record, feed->period_seconds);
  cw_feed_set_length_s(record, feed->seconds);
  write_marker(record, feed, level_dbfs);
}

gboolean cw_feed_is_whole(CwRecord *record)
{
  return cw_feed_has_growth_s(record) && cw_feed_get_length_s(record) > 0;
}

CwSweepFeed cw_feed_read(CwRecord *record)
{
  CwSweepFeed feed = {.sweep = {.start_hz = cw_feed_get_start_hz(record),
                                .stop_hz = cw_feed_get_stop_hz(record),
                                .growth_seconds = cw_feed_get_growth_s(record),
                                .seconds = cw_feed_get_seconds(record),
                                .level = pow(10, cw_feed_get_level_dbfs(record) / 20),
                                .protect_hz = cw_feed_get_protect_hz(record),
                                .protect_order = (int)cw_feed_get_protect_order(record),
                                .fade_in_octaves = cw_feed_get_fade_in_octaves(record),
                                .fade_out_octaves = cw_feed_get_fade_out_octaves(record)},
                      .has_marker = cw_feed_has_marker_low_hz(record),
                      .repeats = (unsigned)cw_feed_get_repeats(record),
                      .sweep_at = cw_feed_get_silence_s(record),
                      .period_seconds = cw_feed_get_period_s(record),
                      .seconds = cw_feed_get_length_s(record)};

  if (!feed.has_marker)
    return feed;
  feed.marker = (CwMarker){.low_hz = cw_feed_get_marker_low_hz(record),
                           .high_hz = cw_feed_get_marker_high_hz(record),
                           .seconds = cw_feed_get_marker_s(record),
                           .level = pow(10, cw_feed_get_marker_level_dbfs(record) / 20),
                           .fade_part = cw_feed_get_marker_fade(record)};
  feed.first_marker_at = cw_feed_get_first_marker_s(record);
  feed.second_marker_at = cw_feed_get_second_marker_s(record);
  return feed;
}
