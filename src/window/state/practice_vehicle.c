/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/state/practice_vehicle.h"

#include "job/practice/practice.h"
#include "vehicle/json/json_write.h"
#include "vehicle/kinds/kinds.h"
#include "window/state/plan_places.h"

#include <errno.h>
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

static const char *const cars[] = {"alder-tourer", "rowan-van", NULL};

static char *practice_folder(void)
{
  return g_build_filename(g_get_user_data_dir(), "cabinwright", "practice", NULL);
}

/* Where a practice car's project file is; the caller's. */
char *cw_practice_path(const char *car)
{
  g_autofree char *folder = practice_folder(), *name = g_strconcat(car, ".cabin", NULL);
  return g_build_filename(folder, name, NULL);
}

/* From the car's own corner (rear left, metres) to the sheet's (front left, centimetres). */
static void set_place(CwRecord *record, const CwPracticeCabin *cabin, CwPracticePoint point)
{
  cw_place_set(record,
               (CwPlace){100 * (cabin->length_m - point.y_m), 100 * point.x_m, 100 * point.z_m, TRUE});
}

/* The places that a technician would take with a tape measure, for the drawing. */
static void set_places(CwRecord *vehicle, const CwPracticeCar *car)
{
  CwRecord *cabin = cw_vehicle_get_cabin(vehicle);
  cw_cabin_set_length_cm(cabin, round(100 * car->cabin.length_m));
  cw_cabin_set_width_cm(cabin, round(100 * car->cabin.width_m));
  cw_cabin_set_height_cm(cabin, round(100 * car->cabin.height_m));
  for (guint i = 0; i < car->speakers; i++) {
    CwRecord *speaker = cw_vehicle_find_speaker(vehicle, car->speaker[i].output);
    if (speaker)
      set_place(speaker, &car->cabin, car->speaker[i].at);
  }
  for (guint i = 0; i < car->seats; i++)
    set_place(cw_place_make_head(vehicle, car->seat[i].name), &car->cabin, car->seat[i].head);
}

static CwRecord *new_vehicle(const char *car, GError **error)
{
  CwRecord *vehicle = cw_job_practice_vehicle(car, error);
  g_autoptr(CwPracticeBay) bay = vehicle ? cw_job_practice_bay(vehicle, NULL) : NULL;
  if (bay)
    set_places(vehicle, cw_practice_bay_get_setup(bay)->car);
  return vehicle;
}

/* Opens a practice car's project where it was left, or makes it from the car's intake sheet. */
CwProject *cw_practice_open(const char *car, GError **error)
{
  g_autofree char *path = cw_practice_path(car), *folder = practice_folder();
  if (g_file_test(path, G_FILE_TEST_EXISTS))
    return cw_project_open(path, error);
  if (g_mkdir_with_parents(folder, 0700) != 0) {
    g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_STORAGE, "%s: %s", folder, g_strerror(errno));
    return NULL;
  }
  g_autoptr(CwRecord) vehicle = new_vehicle(car, error);
  return vehicle ? cw_project_create(path, vehicle, error) : NULL;
}

/* Puts a practice car's file aside under its time, so that the next opening begins afresh. */
gboolean cw_practice_set_aside(const char *car, GError **error)
{
  g_autofree char *path = cw_practice_path(car), *now = cw_now_utc(), *aside = NULL;
  if (!g_file_test(path, G_FILE_TEST_EXISTS))
    return TRUE;
  aside = g_strdup_printf("%.*s-%s.cabin", (int)(strlen(path) - strlen(".cabin")), path, now);
  if (g_rename(path, aside) == 0)
    return TRUE;
  g_set_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_STORAGE, "%s: %s", path, g_strerror(errno));
  return FALSE;
}

/* Which practice car stands for a vehicle in the practice bay: the one whose job's reference it has, else the
 * first. Static. */
const char *cw_practice_car_of(CwRecord *vehicle)
{
  for (guint i = 1; cars[i]; i++) {
    g_autoptr(CwRecord) intake = new_vehicle(cars[i], NULL);
    if (intake && g_strcmp0(cw_vehicle_get_reference(intake), cw_vehicle_get_reference(vehicle)) == 0)
      return cars[i];
  }
  return cars[0];
}

/* How the practice bay stands for a vehicle: its car, the microphone at a position ("driver/3"), the noise of
 * a seed and, with the text of a settings table, that in its processor. JSON text; the caller's. */
char *cw_practice_setup(CwRecord *vehicle, const char *position, guint seed, const char *table)
{
  const char *slash = strrchr(position, '/');
  g_autofree char *seat = g_strndup(position, (gsize)(slash - position));
  GString *json = g_string_new("{");

  cw_append_json_text_member(json, "car", cw_practice_car_of(vehicle));
  cw_append_json_text_member(json, "seat", seat);
  cw_append_json_member(json, "position", (double)g_ascii_strtoll(slash + 1, NULL, 10) - 1);
  cw_append_json_member(json, "seed", seed);
  if (table) {
    cw_append_json_key(json, "table");
    g_string_append(json, table);
  }
  g_string_append_c(json, '}');
  return g_string_free(json, FALSE);
}
