/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/verb.h"
#include "job/practice/practice.h"
#include "vehicle/json/document.h"
#include <stdio.h>

static char *car;

static const GOptionEntry practice_entries[] = {
    {"car", 0, 0, G_OPTION_ARG_STRING, &car,
     "Which demo vehicle a new project file gets: alder-tourer (unless told) or rowan-van", "NAME"},
    {0},
};

static void say(double part, const char *words, gpointer data)
{
  fprintf(stderr, "%3.0f %%  %s\n", 100 * part, words);
}

static CwProject *open_or_make(const char *path, GError **error)
{
  if (g_file_test(path, G_FILE_TEST_EXISTS))
    return cw_project_open(path, error);
  g_autoptr(CwRecord) vehicle = cw_job_practice_vehicle(car ? car : "alder-tourer", error);
  return vehicle ? cw_project_create(path, vehicle, error) : NULL;
}

static gboolean run_practice(char **arguments, gboolean json, GError **error)
{
  g_autoptr(CwProject) project = open_or_make(arguments[0], error);

  if (!project)
    return FALSE;
  if (!cw_job_practice(project, NULL, json ? NULL : say, NULL, error)) {
    g_prefix_error(error, "%s: ", arguments[0]);
    return FALSE;
  }
  if (!json)
    return TRUE;
  g_autofree char *text = cw_record_to_json(cw_vehicle_get_tune(cw_project_get_vehicle(project)), NULL);
  return cw_print(text, error);
}

const CwVerb cw_verbs_practice[] = {
    {"practice", "CAR", "does every stage in the practice bay; makes CAR if it is not there", 1, 1,
     practice_entries, run_practice},
    {0},
};
