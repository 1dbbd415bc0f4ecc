/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/tuning/measured_car.h"
#include "job/takes/clean_band.h"
#include "job/takes/feed_record.h"
#include "job/takes/feeds.h"
#include "job/takes/heard_car.h"
#include "job/takes/positions.h"
#include "job/takes/takes.h"
#include "signal/stimulus/marker.h"
#include <math.h>

#define SPEED_OF_SOUND_M_PER_S 343.2 /* dry air at 20 degrees C, ISO 9613-1 */

/* One take as it goes into the car. */
typedef struct {
  CwRecord *take; /* borrowed; NULL where there is none */
  CwSamples *impulse;
  double start_seconds, arrival_seconds; /* on the take's own time base, then on the common one */
  gint64 marker_output;                  /* 0 without */
} PlacedTake;

typedef struct {
  CwRecord *vehicle;
  guint outputs, places;
  char **name;      /* of the places */
  PlacedTake *take; /* outputs x places */
  CwHeardCar *heard;
} Board;

static PlacedTake *at(const Board *board, guint output, guint place)
{
  return &board->take[output * board->places + place];
}

static CwRecord *speaker_at(const Board *board, guint output)
{
  return cw_list_get(cw_vehicle_get_speakers(board->vehicle), output);
}

char **cw_job_measured_places(CwRecord *vehicle, const char *seat)
{
  const char *const *seats = cw_vehicle_get_seats(vehicle);
  GStrvBuilder *builder = g_strv_builder_new();

  for (guint s = 0; seats[s]; s++) {
    if (seat && !g_str_equal(seats[s], seat))
      continue;
    g_auto(GStrv) positions = cw_job_positions(vehicle, seats[s]);
    g_strv_builder_addv(builder, (const char **)positions);
  }
  char **places = g_strv_builder_end(builder);
  g_strv_builder_unref(builder);
  return places;
}

static gboolean gather(CwProject *project, Board *board, char **places, CwPurpose purpose, GError **error)
{
  for (guint o = 0; o < board->outputs; o++) {
    CwRecord *speaker = speaker_at(board, o);
    gint64 output = cw_speaker_get_output(speaker);
    guint found = 0;
    for (guint p = 0; p < board->places; p++) {
      PlacedTake *t = at(board, o, p);
      t->take = cw_job_find_take(board->vehicle, output, places[p], purpose);
      if (!t->take)
        continue;
      t->impulse = cw_project_get_samples(project, cw_take_get_blob(t->take), error);
      if (!t->impulse)
        return FALSE;
      t->start_seconds = 1e-3 * cw_take_get_blob_start_ms(t->take);
      t->arrival_seconds = 1e-3 * cw_take_get_arrival_ms(t->take);
      if (cw_take_get_timing(t->take) == CW_TIMING_MARKER) {
        CwRecord *feed = cw_job_feed_of_take(board->vehicle, t->take);
        gint64 marker = feed ? cw_feed_get_marker_output(feed) : CW_NO_INTEGER;
        t->marker_output = marker == CW_NO_INTEGER ? 0 : marker;
      }
      found++;
    }
    if (!found)
      return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "output %d (%s): no accepted take; measure it first",
                           (int)output, cw_speaker_get_name(speaker));
  }
  return TRUE;
}

/* The marker's output that most takes were timed by. */
static gint64 common_marker(const Board *board)
{
  gint64 best = 0;
  guint best_count = 0;

  for (guint i = 0; i < board->outputs * board->places; i++) {
    guint count = 0;
    for (guint k = 0; k < board->outputs * board->places; k++)
      count += board->take[k].take && board->take[k].marker_output == board->take[i].marker_output;
    if (board->take[i].marker_output && count > best_count) {
      best_count = count;
      best = board->take[i].marker_output;
    }
  }
  return best;
}

/* When a marker through a speaker, known by its take, would be found: on that take's time base. */
static gboolean marker_through(const PlacedTake *t, const CwMarker *marker, double *seconds)
{
  gsize own = cw_marker_frames(marker, t->impulse->rate_hz), frames = t->impulse->n_frames,
        count = own + frames - 1;
  double *burst = cw_alloc_real(own), *response = cw_alloc_real(frames), *heard = cw_alloc_real(count);
  CwMarkerHit hit;

  cw_marker_render(marker, t->impulse->rate_hz, burst);
  for (gsize i = 0; i < frames; i++)
    response[i] = t->impulse->values[i];
  cw_convolve(burst, own, response, frames, heard);
  gboolean found =
      cw_marker_find(marker, t->impulse->rate_hz, heard, count, marker->seconds, 10, &hit, 1) == 1;
  *seconds = found ? t->start_seconds + hit.at_seconds : NAN;
  cw_free(burst);
  cw_free(response);
  cw_free(heard);
  return found;
}

static int output_index(const Board *board, gint64 number)
{
  for (guint o = 0; o < board->outputs; o++)
    if (cw_speaker_get_output(speaker_at(board, o)) == number)
      return (int)o;
  return -1;
}

/* Takes timed by another marker than most are shifted: what the common time base says of that other marker's
 * speaker tells when its burst would have been found. */
static gboolean join_markers(const Board *board, GError **error)
{
  gint64 common = common_marker(board);

  for (guint o = 0; common && o < board->outputs; o++)
    for (guint p = 0; p < board->places; p++) {
      PlacedTake *t = at(board, o, p);
      double shift;
      if (!t->take || !t->marker_output || t->marker_output == common)
        continue;
      int other = output_index(board, t->marker_output);
      const PlacedTake *known = other >= 0 ? at(board, (guint)other, p) : NULL;
      CwRecord *played = cw_job_feed_of_take(board->vehicle, t->take);
      if (!cw_feed_has_marker_low_hz(played))
        return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE,
                             "output %d at %s: it is not known what its marker played: take it again",
                             (int)cw_take_get_output(t->take), cw_take_get_position(t->take));
      CwSweepFeed feed = cw_feed_read(played);
      if (!known || !known->take || known->marker_output != common ||
          !marker_through(known, &feed.marker, &shift))
        return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE,
                             "output %d at %s was timed by output %d, which was not itself timed by output "
                             "%d there: take one of them again",
                             (int)cw_take_get_output(t->take), cw_take_get_position(t->take),
                             (int)t->marker_output, (int)common);
      t->start_seconds += shift;
      t->arrival_seconds += shift;
    }
  return TRUE;
}

/* Takes without timing: the sound took the sheet's distance. */
static gboolean place_by_distance(const Board *board, GError **error)
{
  for (guint o = 0; o < board->outputs; o++)
    for (guint p = 0; p < board->places; p++) {
      PlacedTake *t = at(board, o, p);
      if (!t->take || cw_take_get_timing(t->take) != CW_TIMING_NONE)
        continue;
      const char *position = cw_take_get_position(t->take);
      g_autofree char *seat = g_strndup(position, (gsize)(strchr(position, '/') - position));
      const CwNumbers *distances = cw_speaker_get_distance_cm(speaker_at(board, o));
      double distance_cm = distances ? cw_numbers_named(distances, seat) : NAN;
      if (isnan(distance_cm))
        return cw_job_refuse(
            error, CW_JOB_ERROR_VEHICLE,
            "output %d was measured without timing: enter its distance to %s on the vehicle sheet",
            (int)cw_take_get_output(t->take), seat);
      t->arrival_seconds = 0.01 * distance_cm / SPEED_OF_SOUND_M_PER_S;
      t->start_seconds += t->arrival_seconds;
    }
  return TRUE;
}

static gboolean one_rate(const Board *board, double *rate_hz, gsize *frames, GError **error)
{
  *rate_hz = 0;
  *frames = 0;
  for (guint i = 0; i < board->outputs * board->places; i++) {
    const CwSamples *s = board->take[i].impulse;
    if (!s)
      continue;
    if (*rate_hz == 0)
      *rate_hz = s->rate_hz;
    if (fabs(s->rate_hz / *rate_hz - 1) > 1e-3)
      return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE,
                           "takes at %.0f and %.0f Hz do not go together: record all at one rate", *rate_hz,
                           s->rate_hz);
    *frames = MAX(*frames, s->n_frames);
  }
  return TRUE;
}

/* The doubt of an output's arrival where most of its takes have none but the sheet's distance; else 0. */
static double doubt_by_distance(const Board *board, guint o)
{
  double sum = 0;
  guint count = 0, all = 0;

  for (guint p = 0; p < board->places; p++) {
    CwRecord *take = at(board, o, p)->take;
    double doubt_us = take ? cw_take_get_arrival_doubt_us(take) : NAN;
    all += take != NULL;
    if (!take || cw_take_get_arrival_by(take) != CW_ARRIVAL_DISTANCE || isnan(doubt_us))
      continue;
    sum += 1e-6 * doubt_us;
    count++;
  }
  return 2 * count > all ? sum / count : 0;
}

static void describe_output(const Board *board, guint o, CwCarOutput *output)
{
  CwRecord *speaker = speaker_at(board, o);
  CwSide side = cw_speaker_get_side(speaker);

  output->number = (int)cw_speaker_get_output(speaker);
  output->way = cw_speaker_get_way(speaker);
  output->side = side;
  output->role = cw_speaker_get_role(speaker);
  output->lowest_hz = cw_job_lowest_hz(speaker);
  double resonance_hz = cw_speaker_get_fs_hz(speaker);
  output->resonance_hz = isnan(resonance_hz) ? 0 : resonance_hz;
  output->clean_hz = cw_job_clean_range(board->vehicle, output->number, output->lowest_hz).from_hz;
  output->mix[0] = side == CW_SIDE_LEFT ? 1 : side == CW_SIDE_RIGHT ? 0 : 0.5;
  output->mix[1] = side == CW_SIDE_RIGHT ? 1 : side == CW_SIDE_LEFT ? 0 : 0.5;
  if (output->role == CW_ROLE_OFF)
    output->mix[0] = output->mix[1] = 0;
  for (guint p = 0; p < board->places; p++) {
    CwRecord *take = at(board, o, p)->take, *rattle = take ? cw_take_get_rattle(take) : NULL;
    if (rattle)
      output->rattle_hz = cw_rattle_get_hz(rattle);
  }
  output->inverted = cw_heard_inverted(board->heard, o);
  output->arrival_doubt_seconds = doubt_by_distance(board, o);
}

/* "driver/1" and "driver/2" are at one seat, "passenger/1" at the next. */
static void set_seats(const Board *board, CwCar *car)
{
  for (guint p = 1; p < board->places; p++) {
    const char *here = board->name[p], *before = board->name[p - 1];
    gsize length = (gsize)(strrchr(here, '/') - here) + 1;
    car->seats += strncmp(here, before, length) != 0;
    car->place_seat[p] = car->seats - 1;
  }
}

static CwCar *build(const Board *board, GError **error)
{
  double rate_hz;
  gsize frames;

  if (!one_rate(board, &rate_hz, &frames, error))
    return NULL;
  CwCar *car = cw_car_new(board->outputs, board->places, rate_hz, frames);
  set_seats(board, car);
  double *arrivals = cw_alloc_real(board->outputs * board->places);
  for (guint o = 0; o < board->outputs; o++) {
    describe_output(board, o, &car->output[o]);
    for (guint p = 0; p < board->places; p++) {
      const PlacedTake *t = at(board, o, p);
      arrivals[o * board->places + p] = t->take ? t->arrival_seconds : NAN;
      if (t->take)
        cw_car_add(car, o, p, t->impulse->values, t->impulse->n_frames, t->start_seconds);
    }
  }
  cw_car_settle(car, arrivals);
  cw_free(arrivals);
  return car;
}

CwCar *cw_job_measured_car(CwProject *project, const char *seat, CwPurpose purpose, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_auto(GStrv) places = cw_job_measured_places(vehicle, seat);
  Board board = {.vehicle = vehicle,
                 .outputs = cw_list_get_length(cw_vehicle_get_speakers(vehicle)),
                 .places = g_strv_length(places),
                 .name = places};
  CwCar *car = NULL;

  if (board.places == 0 || board.outputs == 0) {
    cw_job_refuse(error, CW_JOB_ERROR_VEHICLE,
                  board.outputs ? "seat: the vehicle has no seat %s" : "the vehicle has no speakers%s",
                  board.outputs ? seat : "");
    return NULL;
  }
  board.take = g_new0(PlacedTake, board.outputs * board.places);
  board.heard = cw_job_hear_car(vehicle);
  if (gather(project, &board, places, purpose, error) && join_markers(&board, error) &&
      place_by_distance(&board, error))
    car = build(&board, error);
  for (guint i = 0; i < board.outputs * board.places; i++)
    g_clear_pointer(&board.take[i].impulse, cw_samples_free);
  g_free(board.take);
  cw_heard_car_free(board.heard);
  return car;
}
