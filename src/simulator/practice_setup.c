/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "simulator/practice_setup.h"
#include "simulator/practice_error.h"
#include "simulator/practice_json.h"

#include <math.h>
#include <string.h>

#define SECTIONS_MOST 64
#define DELAY_MOST 192000

/* The processor as it comes: each side's outputs hear their side's input, the middle hears both. */
static void unload(CwPracticeSetup *setup)
{
  setup->settings_rate_hz = 0;
  for (guint i = 0; i < CW_PRACTICE_SPEAKERS_MOST; i++) {
    g_free(setup->settings[i].section);
    setup->settings[i] = (CwPracticeSettings){0};
  }
  for (guint i = 0; i < setup->car->speakers; i++) {
    const CwPracticeSpeaker *speaker = &setup->car->speaker[i];
    CwPracticeSettings *settings = &setup->settings[speaker->output - 1];
    settings->left = strcmp(speaker->side, "left") == 0 ? 1 : strcmp(speaker->side, "right") == 0 ? 0 : 0.5;
    settings->right = 1 - settings->left;
  }
}

typedef struct {
  CwPracticeSetup *setup;
  CwPracticeSettings *output;
  double a_scale;
} TableRead;

static void read_section(const CwPracticeJson *json, guint index, gpointer data)
{
  TableRead *read = data;
  double b[3], a[3];
  cw_practice_json_numbers(json, "b", -1e6, 1e6, 3, b);
  cw_practice_json_numbers(json, "a", -1e6, 1e6, 3, a);
  CwCoefficients *section = &read->output->section[index];
  *section = (CwCoefficients){{b[0], b[1], b[2]}, {1, read->a_scale * a[1], read->a_scale * a[2]}};
  read->output->sections = index + 1;
  if (!(cw_coefficients_pole_radius(section) < 1))
    cw_practice_json_fail(json, "a", "a stable section");
}

static void read_mix(const CwPracticeJson *json, gpointer data)
{
  CwPracticeSettings *output = data;
  output->left = cw_practice_json_number(json, "left", -10, 10, 0);
  output->right = cw_practice_json_number(json, "right", -10, 10, 0);
}

static void read_output(const CwPracticeJson *json, guint index, gpointer data)
{
  TableRead *read = data;
  guint number = (guint)cw_practice_json_number(json, "output", 1, read->setup->car->outputs, NAN);
  if (cw_practice_json_failed(json))
    return;
  CwPracticeSettings *output = read->output = &read->setup->settings[number - 1];
  if (output->section) {
    cw_practice_json_fail(json, "output", "each output once");
    return;
  }
  output->section = g_new0(CwCoefficients, SECTIONS_MOST);
  output->gain_db = cw_practice_json_number(json, "gain_db", -200, 40, 0);
  output->delay_samples = (guint)cw_practice_json_number(json, "delay_samples", 0, DELAY_MOST, 0);
  char *polarity = cw_practice_json_text(json, "polarity", "normal");
  output->inverted = strcmp(polarity, "inverted") == 0;
  g_free(polarity);
  cw_practice_json_inside(json, "mix", read_mix, output);
  cw_practice_json_each(json, "sections", SECTIONS_MOST, read_section, read);
}

static void read_table(const CwPracticeJson *json, gpointer data)
{
  CwPracticeSetup *setup = data;
  char *sign = cw_practice_json_text(json, "a_sign", "minus");
  TableRead read = {setup, NULL, strcmp(sign, "plus") == 0 ? -1 : 1};
  g_free(sign);
  double rate_hz = cw_practice_json_number(json, "sample_rate_hz", CW_PRACTICE_RATE_LEAST_HZ,
                                           CW_PRACTICE_RATE_MOST_HZ, NAN);
  cw_practice_json_each(json, "outputs", CW_PRACTICE_SPEAKERS_MOST, read_output, &read);
  setup->settings_rate_hz = rate_hz;
}

gboolean cw_practice_setup_load_table(CwPracticeSetup *setup, const char *table, GError **error)
{
  g_return_val_if_fail(setup != NULL, FALSE);
  unload(setup);
  if (!table)
    return TRUE;
  JsonNode *root = cw_practice_json_parse(table, error);
  if (!root)
    return FALSE;
  GError *first = NULL;
  CwPracticeJson json = {json_node_get_object(root), "table", &first};
  read_table(&json, setup);
  json_node_unref(root);
  if (!first)
    return TRUE;
  unload(setup);
  g_propagate_error(error, first);
  return FALSE;
}

static void read_own_car(const CwPracticeJson *json, gpointer data)
{
  *(CwPracticeCar **)data = cw_practice_car_read(json);
}

static CwPracticeCar *read_car(const CwPracticeJson *json)
{
  JsonNode *node = json_object_get_member(json->object, "car");
  CwPracticeCar *car = NULL;
  if (!node)
    car = cw_practice_car_built_in("alder-tourer");
  else if (JSON_NODE_HOLDS_OBJECT(node))
    cw_practice_json_inside(json, "car", read_own_car, &car);
  else if (JSON_NODE_HOLDS_VALUE(node) && json_node_get_value_type(node) == G_TYPE_STRING)
    car = cw_practice_car_built_in(json_node_get_string(node));
  if (!car)
    cw_practice_json_fail(json, "car", "alder-tourer, rowan-van, or a description");
  return car;
}

static void read_defects(const CwPracticeJson *json, CwPracticeCar *car)
{
  JsonNode *node = json_object_get_member(json->object, "defects");
  if (!node)
    return;
  JsonArray *array = JSON_NODE_HOLDS_ARRAY(node) ? json_node_get_array(node) : NULL;
  guint count = array ? json_array_get_length(array) : 0, found = 0;
  for (guint i = 0; i < car->defects; i++) {
    car->defect[i].on = FALSE;
    for (guint k = 0; k < count; k++) {
      JsonNode *name = json_array_get_element(array, k);
      if (JSON_NODE_HOLDS_VALUE(name) && json_node_get_value_type(name) == G_TYPE_STRING &&
          strcmp(json_node_get_string(name), car->defect[i].name) == 0)
        car->defect[i].on = TRUE;
    }
    found += car->defect[i].on ? 1 : 0;
  }
  if (!array || found != count)
    cw_practice_json_fail(json, "defects", "a list of this car's defects, each once");
}

static void read_place(const CwPracticeJson *json, CwPracticeSetup *setup)
{
  char *seat = cw_practice_json_text(json, "seat", setup->car->seat[0].name);
  int index = cw_practice_car_find_seat(setup->car, seat);
  if (index < 0)
    cw_practice_json_fail(json, "seat", "one of this car's seats");
  setup->seat = (guint)MAX(index, 0);
  g_free(seat);
  setup->position = (guint)cw_practice_json_number(json, "position", 0, CW_PRACTICE_POSITIONS - 1, 0);
  setup->seed = (guint64)cw_practice_json_number(json, "seed", 0, 4294967295.0, 1);
}

static void read_leads(const CwPracticeJson *json, CwPracticeRadioSetup *radio)
{
  JsonNode *node = json_object_get_member(json->object, "leads");
  JsonArray *array = node && JSON_NODE_HOLDS_ARRAY(node) ? json_node_get_array(node) : NULL;
  guint count = array ? json_array_get_length(array) : radio->radio->leads;
  for (guint i = 0; i < count && i < CW_PRACTICE_LEADS_MOST; i++) {
    JsonNode *item = array ? json_array_get_element(array, i) : NULL;
    gint64 lead = !array ? i + 1
                  : JSON_NODE_HOLDS_VALUE(item) && json_node_get_value_type(item) == G_TYPE_INT64
                      ? json_node_get_int(item)
                      : 0;
    if (lead < 1 || lead > radio->radio->leads)
      cw_practice_json_fail(json, "leads", "numbers of this radio's leads");
    else
      radio->lead[radio->leads++] = (guint)lead;
  }
  if ((node && !array) || count == 0 || count > CW_PRACTICE_LEADS_MOST)
    cw_practice_json_fail(json, "leads", "numbers of this radio's leads");
}

static void read_radio(const CwPracticeJson *json, gpointer data)
{
  CwPracticeSetup *setup = data;
  CwPracticeRadioSetup *radio = &setup->radio;
  radio->radio = cw_practice_radio_of(setup->car->name);
  if (!radio->radio) {
    cw_practice_json_fail(json, "track", "a car with a factory radio");
    return;
  }
  radio->track = cw_practice_json_text(json, "track", NULL);
  radio->volume_step = (int)cw_practice_json_number(json, "volume_step", 0, radio->radio->loud_step,
                                                    radio->radio->survey_step);
  radio->balance = cw_practice_json_number(json, "balance", -1, 1, 0);
  radio->fader = cw_practice_json_number(json, "fader", -1, 1, 0);
  char *seat = cw_practice_json_text(json, "seat_setting", "all");
  radio->seat_set = strcmp(seat, "all") != 0;
  g_free(seat);
  read_leads(json, radio);
}

static void read_device(const CwPracticeJson *json, gpointer data)
{
  CwPracticeSetup *setup = data;
  setup->stalls_after_s = cw_practice_json_number(json, "stalls_after_s", 0, 3600, 0);
  setup->gap_after_s = cw_practice_json_number(json, "gap_after_s", 0, 3600, 0);
}

CwPracticeSetup *cw_practice_setup_parse(const char *text, GError **error)
{
  JsonNode *root = cw_practice_json_parse(text, error);
  if (!root)
    return NULL;
  GError *first = NULL;
  CwPracticeJson json = {json_node_get_object(root), "", &first};
  CwPracticeSetup *setup = g_new0(CwPracticeSetup, 1);
  setup->car = read_car(&json);
  if (setup->car) {
    unload(setup);
    read_defects(&json, setup->car);
    read_place(&json, setup);
    cw_practice_json_inside(&json, "table", read_table, setup);
    cw_practice_json_inside(&json, "radio", read_radio, setup);
    cw_practice_json_inside(&json, "device", read_device, setup);
  }
  json_node_unref(root);
  if (first) {
    g_propagate_error(error, first);
    g_clear_pointer(&setup, cw_practice_setup_free);
  }
  return setup;
}

void cw_practice_setup_free(CwPracticeSetup *setup)
{
  if (!setup)
    return;
  for (guint i = 0; i < CW_PRACTICE_SPEAKERS_MOST; i++)
    g_free(setup->settings[i].section);
  cw_practice_car_free(setup->car);
  g_free(setup->radio.track);
  g_free(setup);
}

guint cw_practice_setup_get_outputs(const CwPracticeSetup *setup)
{
  return setup->car->outputs + 2;
}
