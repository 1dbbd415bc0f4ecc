/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "simulator/practice_car.h"
#include "simulator/practice_error.h"
#include "simulator/practice_json.h"

#include <math.h>
#include <string.h>

#define CABIN_MOST_M 12.0

static CwPracticePoint read_point(const CwPracticeJson *json, const char *key, double least, double most)
{
  double number[3];
  cw_practice_json_numbers(json, key, least, most, 3, number);
  return (CwPracticePoint){number[0], number[1], number[2]};
}

static void read_section(const CwPracticeJson *json, guint index, gpointer data)
{
  CwPracticeSections *sections = data;
  char *kind = cw_practice_json_text(json, "kind", "peaking");
  sections->section[index] = (CwSection){
      cw_section_kind_from_name(kind), cw_practice_json_number(json, "hz", 1, 40000, NAN),
      cw_practice_json_number(json, "db", -30, 30, 0), cw_practice_json_number(json, "q", 0.1, 20, 1)};
  if (sections->section[index].kind == CW_SECTION_KINDS)
    cw_practice_json_fail(json, "kind", "the name of a section");
  g_free(kind);
}

static void read_sections(const CwPracticeJson *json, const char *key, CwPracticeSections *sections)
{
  sections->count = cw_practice_json_each(json, key, CW_PRACTICE_SECTIONS_MOST, read_section, sections);
}

static void read_cabin(const CwPracticeJson *json, gpointer data)
{
  static const char *const surface[CW_SURFACES] = {"floor", "roof", "sides", "ends"};
  CwPracticeCabin *cabin = data;
  cabin->length_m = cw_practice_json_number(json, "length_m", 0.5, CABIN_MOST_M, NAN);
  cabin->width_m = cw_practice_json_number(json, "width_m", 0.5, CABIN_MOST_M, NAN);
  cabin->height_m = cw_practice_json_number(json, "height_m", 0.5, CABIN_MOST_M, NAN);
  for (guint i = 0; i < CW_SURFACES; i++)
    cw_practice_json_numbers(json, surface[i], 0.01, 0.99, CW_PRACTICE_BANDS, cabin->absorption[i]);
  cw_practice_json_numbers(json, "damping_db_per_m", 0, 20, CW_PRACTICE_BANDS, cabin->damping_db_per_m);
}

static void check_inside(const CwPracticeJson *json, const CwPracticeCabin *cabin,
                         const CwPracticePoint *point)
{
  if (!(point->x_m > 0 && point->x_m < cabin->width_m && point->y_m > 0 && point->y_m < cabin->length_m &&
        point->z_m > 0 && point->z_m < cabin->height_m))
    cw_practice_json_fail(json, "at", "a place inside the cabin");
}

static void read_speaker(const CwPracticeJson *json, guint index, gpointer data)
{
  CwPracticeCar *car = data;
  CwPracticeSpeaker *speaker = &car->speaker[index];
  car->speakers = index + 1;
  speaker->output = (guint)cw_practice_json_number(json, "output", 1, car->outputs, NAN);
  speaker->name = cw_practice_json_text(json, "name", NULL);
  speaker->way = cw_practice_json_text(json, "way", NULL);
  speaker->side = cw_practice_json_text(json, "side", NULL);
  speaker->at = read_point(json, "at", 0, CABIN_MOST_M);
  check_inside(json, &car->cabin, &speaker->at);
  speaker->aim = read_point(json, "aim", -1, 1);
  speaker->radius_cm = cw_practice_json_number(json, "radius_cm", 0, 25, 0);
  speaker->fs_hz = cw_practice_json_number(json, "fs_hz", 10, 5000, NAN);
  speaker->q = cw_practice_json_number(json, "q", 0.3, 3, 0.8);
  speaker->highest_hz = cw_practice_json_number(json, "highest_hz", 50, 40000, NAN);
  speaker->lowest_hz = cw_practice_json_number(json, "lowest_hz", 10, 10000, NAN);
  speaker->level_db_spl = cw_practice_json_number(json, "level_db_spl", 60, 130, NAN);
  speaker->second_percent = cw_practice_json_number(json, "second_percent", 0, 10, 0);
  speaker->third_percent = cw_practice_json_number(json, "third_percent", 0, 10, 0);
  speaker->nominal_ohm = cw_practice_json_number(json, "nominal_ohm", 0.5, 32, 4);
  speaker->rated_w = cw_practice_json_number(json, "rated_w", 1, 5000, 50);
  read_sections(json, "unevenness", &speaker->unevenness);
}

static void read_seat(const CwPracticeJson *json, guint index, gpointer data)
{
  CwPracticeCar *car = data;
  car->seat[index].name = cw_practice_json_text(json, "name", NULL);
  car->seats = index + 1;
  car->seat[index].head = read_point(json, "head", 0.12, CABIN_MOST_M);
  /* The positions around the head reach 12 cm. */
  CwPracticePoint far = car->seat[index].head;
  far = (CwPracticePoint){far.x_m + 0.12, far.y_m + 0.12, far.z_m + 0.12};
  check_inside(json, &car->cabin, &far);
}

static void read_defect(const CwPracticeJson *json, guint index, gpointer data)
{
  static const char *const kinds[CW_DEFECTS] = {"reversed", "rattle", "silent", "swapped", "joined"};
  CwPracticeCar *car = data;
  CwPracticeDefect *defect = &car->defect[index];
  defect->name = cw_practice_json_text(json, "name", NULL);
  car->defects = index + 1;
  char *kind = cw_practice_json_text(json, "kind", NULL);
  while (defect->kind < CW_DEFECTS && strcmp(kind, kinds[defect->kind]) != 0)
    defect->kind++;
  g_free(kind);
  if (defect->kind == CW_DEFECTS)
    cw_practice_json_fail(json, "kind", "reversed, rattle, silent, swapped or joined");
  defect->output = (guint)cw_practice_json_number(json, "output", 1, car->outputs, NAN);
  defect->on = cw_practice_json_flag(json, "on", FALSE);
  if (defect->kind == CW_DEFECT_SWAPPED || defect->kind == CW_DEFECT_JOINED) {
    defect->with = (guint)cw_practice_json_number(json, "with", 1, car->outputs, NAN);
    if (defect->with == defect->output)
      cw_practice_json_fail(json, "with", "another output");
  }
  if (defect->kind != CW_DEFECT_RATTLE)
    return;
  defect->hz = cw_practice_json_number(json, "hz", 20, 1000, NAN);
  defect->level_db = cw_practice_json_number(json, "level_db", -80, 20, NAN);
  defect->threshold_dbfs = cw_practice_json_number(json, "threshold_dbfs", -60, 0, NAN);
  defect->at = read_point(json, "at", 0, CABIN_MOST_M);
  check_inside(json, &car->cabin, &defect->at);
}

static void read_car(const CwPracticeJson *json, CwPracticeCar *car)
{
  car->name = cw_practice_json_text(json, "name", NULL);
  car->outputs = (guint)cw_practice_json_number(json, "outputs", 1, CW_PRACTICE_SPEAKERS_MOST, NAN);
  car->rate_hz =
      cw_practice_json_number(json, "rate_hz", CW_PRACTICE_RATE_LEAST_HZ, CW_PRACTICE_RATE_MOST_HZ, NAN);
  if (!cw_practice_json_inside(json, "cabin", read_cabin, &car->cabin))
    cw_practice_json_fail(json, "cabin", "an object");
  if (cw_practice_json_each(json, "speakers", CW_PRACTICE_SPEAKERS_MOST, read_speaker, car) == 0)
    cw_practice_json_fail(json, "speakers", "at least one");
  if (cw_practice_json_each(json, "seats", CW_PRACTICE_SEATS_MOST, read_seat, car) == 0)
    cw_practice_json_fail(json, "seats", "at least one");
  cw_practice_json_each(json, "defects", CW_PRACTICE_DEFECTS_MOST, read_defect, car);
  read_sections(json, "microphone", &car->microphone);
  car->spl_at_full_scale = cw_practice_json_number(json, "spl_at_full_scale", 80, 160, 124);
  car->microphone_noise_db_spl = cw_practice_json_number(json, "microphone_noise_db_spl", -100, 90, 30);
  car->rumble_db_spl = cw_practice_json_number(json, "rumble_db_spl", -100, 90, 40);
  car->latency_ms = cw_practice_json_number(json, "latency_ms", 0, 500, 20);
  JsonNode *sheet = json_object_get_member(json->object, "sheet");
  if (sheet && !JSON_NODE_HOLDS_OBJECT(sheet))
    cw_practice_json_fail(json, "sheet", "an object");
  else
    car->sheet = sheet ? json_to_string(sheet, FALSE) : g_strdup("{}");
}

CwPracticeCar *cw_practice_car_read(const CwPracticeJson *json)
{
  CwPracticeCar *car = g_new0(CwPracticeCar, 1);
  read_car(json, car);
  if (cw_practice_json_failed(json))
    g_clear_pointer(&car, cw_practice_car_free);
  return car;
}

CwPracticeCar *cw_practice_car_parse(const char *text, GError **error)
{
  GError *first = NULL;
  JsonNode *root = cw_practice_json_parse(text, error);
  if (!root)
    return NULL;
  CwPracticeJson json = {json_node_get_object(root), "", &first};
  CwPracticeCar *car = cw_practice_car_read(&json);
  json_node_unref(root);
  if (first)
    g_propagate_error(error, first);
  return car;
}

CwPracticeCar *cw_practice_car_built_in(const char *name)
{
  GError *error = NULL;
  const char *text = cw_practice_built_in_text(name);
  CwPracticeCar *car = text ? cw_practice_car_parse(text, &error) : NULL;
  if (error)
    g_error("built-in practice car %s: %s", name, error->message);
  return car;
}

void cw_practice_car_free(CwPracticeCar *car)
{
  if (!car)
    return;
  for (guint i = 0; i < car->speakers; i++) {
    g_free(car->speaker[i].name);
    g_free(car->speaker[i].way);
    g_free(car->speaker[i].side);
  }
  for (guint i = 0; i < car->seats; i++)
    g_free(car->seat[i].name);
  for (guint i = 0; i < car->defects; i++)
    g_free(car->defect[i].name);
  g_free(car->sheet);
  g_free(car->name);
  g_free(car);
}

int cw_practice_car_find_seat(const CwPracticeCar *car, const char *name)
{
  for (guint i = 0; i < car->seats; i++)
    if (strcmp(car->seat[i].name, name) == 0)
      return (int)i;
  return -1;
}

guint32 cw_practice_car_wires(const CwPracticeCar *car, guint speaker, guint *settings_output)
{
  guint output = car->speaker[speaker].output;
  guint32 wires;

  for (guint i = 0; i < car->defects; i++)
    if (car->defect[i].on && car->defect[i].kind == CW_DEFECT_SWAPPED &&
        (car->defect[i].output == output || car->defect[i].with == output)) {
      output = car->defect[i].output + car->defect[i].with - output;
      break;
    }
  wires = 1u << (output - 1);
  for (guint i = 0; i < car->defects; i++)
    if (car->defect[i].on && car->defect[i].kind == CW_DEFECT_JOINED &&
        car->defect[i].with == car->speaker[speaker].output)
      wires |= 1u << (car->defect[i].output - 1);
  if (settings_output)
    *settings_output = output;
  return wires;
}

CwPracticePoint cw_practice_car_position(const CwPracticeCar *car, guint seat, guint position)
{
  /* Metres from the head's centre; not in one line, so that their averages tell more than one of them. */
  static const CwPracticePoint offset[CW_PRACTICE_POSITIONS] = {
      {0, 0, 0},           {-0.085, 0.01, 0.005}, {0.085, 0.01, -0.005},
      {0.015, 0.10, 0.02}, {-0.02, -0.08, 0.03},  {0.03, -0.02, 0.095},
  };
  g_return_val_if_fail(seat < car->seats && position < CW_PRACTICE_POSITIONS, (CwPracticePoint){0});
  CwPracticePoint head = car->seat[seat].head;
  return (CwPracticePoint){head.x_m + offset[position].x_m, head.y_m + offset[position].y_m,
                           head.z_m + offset[position].z_m};
}
