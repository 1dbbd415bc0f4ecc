/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/takes/heard_car.h"
#include "job/takes/positions.h"
#include <math.h>

#define HAND_CERTAINTY 0.999
#define MOST_SURE 0.99
#define SUB_MOST_SURE 0.92 /* its sum with the midbass decides, not this */

/* About how large a speaker of each way is, as cars have them; common practice, no source. */
static const double radius_m[] = {[CW_WAY_HIGH] = 0.013,
                                  [CW_WAY_MID] = 0.04,
                                  [CW_WAY_LOW] = 0.075,
                                  [CW_WAY_FULL] = 0.06,
                                  [CW_WAY_SUB] = 0.12};

/* The numbers of a vehicle on their way into the two problems. */
typedef struct {
  CwRecord *vehicle;
  CwHeardCar *car;
  char **place; /* names */
  gsize *place_seat;
  double *distance_m, *radius;
  double *most_sure;
  CwHeardTake *take; /* timed ones */
  CwEdge *edge;      /* CW_EDGES_MOST of each take */
  GHashTable *clock; /* by name */
  CwHeardOnset *onset;
  gsize timed, onsets;
} Gathering;

static int find_mate(CwRecord **speaker, guint count, guint one)
{
  CwSide side = cw_speaker_get_side(speaker[one]);
  CwWay way = cw_speaker_get_way(speaker[one]);
  guint nth = 0, seen = 0;

  if (side == CW_SIDE_BOTH)
    return -1;
  for (guint i = 0; i < one; i++)
    nth += cw_speaker_get_side(speaker[i]) == side && cw_speaker_get_way(speaker[i]) == way;
  for (guint i = 0; i < count; i++) {
    CwSide other = cw_speaker_get_side(speaker[i]);
    if (other == CW_SIDE_BOTH || other == side || cw_speaker_get_way(speaker[i]) != way)
      continue;
    if (seen++ == nth)
      return (int)i;
  }
  return -1;
}

static void gather_speakers(Gathering *g)
{
  CwList *speakers = cw_vehicle_get_speakers(g->vehicle);
  CwHeardCar *car = g->car;

  car->outputs = cw_list_get_length(speakers);
  car->speaker = g_new0(CwRecord *, car->outputs + 1);
  car->mate = g_new0(int, car->outputs + 1);
  g->distance_m = g_new0(double, car->outputs * car->seats + 1);
  g->radius = g_new0(double, car->outputs + 1);
  g->most_sure = g_new0(double, car->outputs + 1);
  for (guint o = 0; o < car->outputs; o++)
    car->speaker[o] = cw_list_get(speakers, o);
  for (guint o = 0; o < car->outputs; o++) {
    const CwNumbers *distances = cw_speaker_get_distance_cm(car->speaker[o]);
    CwWay way = cw_speaker_get_way(car->speaker[o]);
    car->mate[o] = find_mate(car->speaker, car->outputs, o);
    g->radius[o] = radius_m[way];
    g->most_sure[o] = way == CW_WAY_SUB ? SUB_MOST_SURE : MOST_SURE;
    for (guint s = 0; s < car->seats; s++)
      g->distance_m[o * car->seats + s] = distances ? 0.01 * cw_numbers_named(distances, car->seat[s]) : NAN;
  }
}

static void gather_places(Gathering *g)
{
  g_autoptr(GStrvBuilder) builder = g_strv_builder_new();
  CwHeardCar *car = g->car;
  gsize at = 0;

  car->seat = cw_vehicle_get_seats(g->vehicle);
  car->seats = g_strv_length((char **)car->seat);
  for (guint s = 0; s < car->seats; s++) {
    g_auto(GStrv) places = cw_job_positions(g->vehicle, car->seat[s]);
    g_strv_builder_addv(builder, (const char **)places);
  }
  g->place = g_strv_builder_end(builder);
  car->places = g_strv_length(g->place);
  g->place_seat = g_new0(gsize, car->places + 1);
  for (guint s = 0; s < car->seats; s++)
    for (gint64 k = 0; k < cw_vehicle_get_positions_per_seat(g->vehicle); k++)
      g->place_seat[at++] = s;
}

int cw_heard_car_index(const CwHeardCar *car, gint64 output)
{
  for (guint o = 0; o < car->outputs; o++)
    if (cw_speaker_get_output(car->speaker[o]) == output)
      return (int)o;
  return -1;
}

static int place_of(const Gathering *g, const char *position)
{
  for (guint p = 0; p < g->car->places; p++)
    if (g_str_equal(g->place[p], position))
      return (int)p;
  return -1;
}

/* Loopback is one clock; a marker through one speaker at one place another. */
static gsize clock_of(Gathering *g, CwRecord *take)
{
  CwRecord *feed = cw_list_find_integer_at(cw_vehicle_get_feeds(g->vehicle), CW_FEED_FIELD_OUTPUT,
                                           cw_take_get_output(take));
  gint64 marker = feed ? cw_feed_get_marker_output(feed) : CW_NO_INTEGER;
  g_autofree char *name = cw_take_get_timing(take) == CW_TIMING_LOOPBACK
                              ? g_strdup("loopback")
                              : g_strdup_printf("%d %s", (int)marker, cw_take_get_position(take));
  gpointer known;

  if (g_hash_table_lookup_extended(g->clock, name, NULL, &known))
    return GPOINTER_TO_SIZE(known);
  gsize number = g_hash_table_size(g->clock);
  g_hash_table_insert(g->clock, g_steal_pointer(&name), GSIZE_TO_POINTER(number));
  return number;
}

/* Whether another take of the same place came after. */
static gboolean is_replaced(CwRecord *vehicle, CwRecord *take)
{
  return cw_job_find_take(vehicle, cw_take_get_output(take), cw_take_get_position(take),
                          cw_take_get_purpose(take)) != take;
}

/* A take's edges; where a person set the arrival, that alone. */
static gsize read_edges(CwRecord *take, CwEdge *edge)
{
  const CwNumbers *rows = cw_take_get_edges(take);
  double by_hand = cw_take_get_arrival_set_ms(take);
  gsize count = 0;

  for (guint i = 0; rows && i < rows->n_rows && count < CW_EDGES_MOST; i++)
    edge[count++] =
        (CwEdge){1e-3 * cw_numbers_at(rows, i, 0), cw_numbers_at(rows, i, 1), cw_numbers_at(rows, i, 2)};
  if (isnan(by_hand))
    return count;
  edge[0] = (CwEdge){1e-3 * by_hand, 1, HAND_CERTAINTY};
  return 1;
}

static void gather_takes(Gathering *g)
{
  CwList *takes = cw_vehicle_get_takes(g->vehicle);
  guint count = cw_list_get_length(takes);

  g->take = g_new0(CwHeardTake, count + 1);
  g->edge = g_new0(CwEdge, (count + 1) * CW_EDGES_MOST);
  for (guint i = 0; i < count; i++) {
    CwRecord *take = cw_list_get(takes, i);
    int output = cw_heard_car_index(g->car, cw_take_get_output(take)),
        place = place_of(g, cw_take_get_position(take));
    if (output < 0 || place < 0 || !cw_take_get_accepted(take) || is_replaced(g->vehicle, take) ||
        cw_take_get_purpose(take) != CW_PURPOSE_TUNING || cw_take_get_timing(take) == CW_TIMING_NONE ||
        !cw_job_has_edges(take))
      continue;
    CwEdge *edge = g->edge + g->timed * CW_EDGES_MOST;
    double high_hz = cw_take_get_edges_high_hz(take), noise = cw_take_get_edges_noise(take);
    g->take[g->timed++] = (CwHeardTake){.output = (gsize)output,
                                        .place = (gsize)place,
                                        .clock = clock_of(g, take),
                                        .edge = edge,
                                        .edges = read_edges(take, edge),
                                        .high_hz = isnan(high_hz) ? 1000 : high_hz,
                                        .noise = isnan(noise) ? 0 : noise};
    g_ptr_array_add(g->car->takes, take);
  }
}

gboolean cw_job_has_edges(CwRecord *take)
{
  return cw_take_has_edges_noise(take);
}

gsize cw_job_likeliest_edge(const CwNumbers *edges)
{
  gsize best = 0;

  for (guint i = 1; i < edges->n_rows; i++)
    if (cw_numbers_at(edges, i, 2) > cw_numbers_at(edges, (guint)best, 2))
      best = i;
  return best;
}

/* The edge that counts in a take for its polarity: the joint solution's, or without timing its own likeliest.
 */
static void gather_onsets(Gathering *g)
{
  CwList *takes = cw_vehicle_get_takes(g->vehicle);
  gsize timed = 0;

  g->onset = g_new0(CwHeardOnset, cw_list_get_length(takes) + 1);
  for (guint i = 0; i < cw_list_get_length(takes); i++) {
    CwRecord *take = cw_list_get(takes, i);
    const CwNumbers *edges = cw_take_get_edges(take), *onset = cw_take_get_onset(take);
    int output = cw_heard_car_index(g->car, cw_take_get_output(take));
    gboolean own = timed >= g->car->takes->len || g_ptr_array_index(g->car->takes, timed) != take;
    const CwTakeArrival *arrival = own ? NULL : &g->car->sounds->take[timed++];
    if (output < 0 || !edges || edges->n_rows == 0 || !cw_take_get_accepted(take) ||
        is_replaced(g->vehicle, take) || cw_take_get_purpose(take) != CW_PURPOSE_TUNING ||
        (arrival && arrival->edge == CW_NO_EDGE) || !isnan(cw_take_get_arrival_set_ms(take)))
      continue;
    gsize edge = arrival ? arrival->edge : cw_job_likeliest_edge(edges);
    g->onset[g->onsets++] = (CwHeardOnset){
        .output = (gsize)output,
        .inverted = cw_numbers_at(edges, (guint)edge, 1) < 0,
        .certainty = arrival ? arrival->certainty : cw_numbers_at(edges, (guint)edge, 2),
        .onset = onset && onset->n_rows == CW_ONSET_POINTS && edge == cw_job_likeliest_edge(edges)
                     ? onset->values
                     : NULL};
    g->car->heard[output] = TRUE;
  }
}

/* When each take's sound would arrive if the sheet's distance were all. */
static void foretell(const CwFirstSoundProblem *problem, CwHeardCar *car)
{
  car->expected_seconds = g_new0(double, problem->takes + 1);
  for (gsize i = 0; i < problem->takes; i++) {
    const CwHeardTake *take = &problem->take[i];
    double way_m = problem->distance_m[take->output * car->seats + problem->place_seat[take->place]];
    car->expected_seconds[i] = car->sounds->latency_seconds[take->clock] + way_m / problem->speed_m_per_s;
  }
}

static void clear_gathering(Gathering *g)
{
  g_strfreev(g->place);
  g_free(g->place_seat);
  g_free(g->distance_m);
  g_free(g->radius);
  g_free(g->most_sure);
  g_free(g->take);
  g_free(g->edge);
  g_free(g->onset);
  g_hash_table_unref(g->clock);
}

CwHeardCar *cw_job_hear_car(CwRecord *vehicle)
{
  CwHeardCar *car = g_new0(CwHeardCar, 1);
  Gathering g = {
      .vehicle = vehicle, .car = car, .clock = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL)};

  car->takes = g_ptr_array_new();
  gather_places(&g);
  gather_speakers(&g);
  gather_takes(&g);
  CwFirstSoundProblem problem = {.outputs = car->outputs,
                                 .places = car->places,
                                 .seats = car->seats,
                                 .clocks = g_hash_table_size(g.clock),
                                 .takes = g.timed,
                                 .place_seat = g.place_seat,
                                 .distance_m = g.distance_m,
                                 .radius_m = g.radius,
                                 .speed_m_per_s = cw_speed_of_sound(cw_vehicle_get_temperature_c(vehicle)),
                                 .take = g.take};
  car->sounds = cw_first_sounds_find(&problem);
  foretell(&problem, car);
  car->heard = g_new0(gboolean, car->outputs + 1);
  gather_onsets(&g);
  car->verdict = g_new0(CwPolarityVerdict, car->outputs + 1);
  CwPolarityProblem polarity = {car->outputs, g.onsets, car->mate, g.most_sure, g.onset};
  cw_polarity_judge(&polarity, car->verdict);
  clear_gathering(&g);
  return car;
}

void cw_heard_car_free(CwHeardCar *car)
{
  if (!car)
    return;
  g_free(car->speaker);
  g_free(car->mate);
  g_ptr_array_unref(car->takes);
  cw_first_sounds_free(car->sounds);
  g_free(car->expected_seconds);
  g_free(car->verdict);
  g_free(car->heard);
  g_free(car);
}

gboolean cw_heard_inverted(const CwHeardCar *car, guint output)
{
  const CwPolarityVerdict *own = &car->verdict[output];
  int mate = car->mate[output];

  if (mate < 0)
    return own->inverted >= CW_POLARITY_SURE;
  const CwPolarityVerdict *other = &car->verdict[mate];
  if (own->opposite >= CW_POLARITY_SURE) /* one of them: the likelier */
    return own->inverted > other->inverted || (own->inverted == other->inverted && (int)output > mate);
  return own->inverted >= CW_POLARITY_SURE && other->inverted >= CW_POLARITY_SURE;
}
