/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sample.h"
#include "vehicle/json/document.h"

#include <signal.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#define N_KILLS 200
#define MOST_TAKES 8

/* Commits numbered edits without end, every third with a take and its samples, and says each number once it
 * is safe. */
static void commit_without_end(const char *path, int first, int report)
{
  CwProject *project = cw_project_open(path, NULL);
  CwRecord *vehicle = cw_project_get_vehicle(project);
  CwList *takes = cw_vehicle_get_takes(vehicle);
  for (int number = first;; number++) {
    g_autofree char *text = g_strdup_printf("%d", number);
    cw_vehicle_set_description(vehicle, text);
    if (number % 3 == 0) {
      g_autofree char *id = g_strdup_printf("take-%d", number);
      g_autoptr(CwSamples) samples = sample_samples(number);
      sample_add_take(vehicle, id, 1, number % 6, 48);
      cw_take_set_blob(cw_list_get(takes, cw_list_get_length(takes) - 1), id);
      cw_project_put_samples(project, id, samples);
      if (cw_list_get_length(takes) > MOST_TAKES)
        cw_list_remove(takes, 0);
    }
    if (!cw_project_commit(project, text, NULL) || write(report, &number, sizeof number) != sizeof number)
      _exit(1);
  }
}

/* What was said to be safe is in the file: the last number or the one after it, and every take with its
 * samples. */
static int check_after(const char *path, int last_said)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwProject) project = cw_project_open(path, &error);
  g_assert_no_error(error);
  g_assert_null(cw_project_get_read_only_reason(project));
  CwRecord *vehicle = cw_project_get_vehicle(project);
  CwList *takes = cw_vehicle_get_takes(vehicle);
  int found = atoi(cw_vehicle_get_description(vehicle));
  g_assert_cmpint(found, >=, last_said);
  g_assert_cmpint(found, <=, last_said + 1);
  for (guint i = 0; i < cw_list_get_length(takes); i++) {
    const char *blob = cw_take_get_blob(cw_list_get(takes, i));
    int number = atoi(blob + strlen("take-"));
    sample_check_samples(project, blob, number);
    /* the takes are those of the last numbers that three divides, none left out */
    g_assert_cmpint(number, ==, found / 3 * 3 - 3 * (int)(cw_list_get_length(takes) - 1 - i));
  }
  g_autoptr(GPtrArray) wrong = g_ptr_array_new_with_free_func(g_free);
  g_clear_object(&project);
  if (!cw_project_check(path, wrong))
    g_error("%s", (char *)g_ptr_array_index(wrong, 0));
  return found;
}

static int kill_once(const char *path, int first, guint after_us)
{
  int ends[2], last = first - 1, number, status;
  g_assert_cmpint(pipe(ends), ==, 0);
  pid_t child = fork();
  if (child == 0) {
    close(ends[0]);
    commit_without_end(path, first, ends[1]);
  }
  close(ends[1]);
  if (read(ends[0], &number, sizeof number) == sizeof number) /* it is at work */
    last = number;
  g_usleep(after_us);
  g_assert_cmpint(kill(child, SIGKILL), ==, 0);
  g_assert_cmpint(waitpid(child, &status, 0), ==, child);
  g_assert_true(WIFSIGNALED(status));
  while (read(ends[0], &number, sizeof number) == sizeof number)
    last = number;
  close(ends[0]);
  return last;
}

/* Killed at any moment, a file opens and holds all that was said to be safe. */
static void test_kill(void)
{
  g_autoptr(GError) error = NULL;
  g_autofree char *folder = sample_folder(), *path = g_build_filename(folder, "J-0147.cabin", NULL);
  g_autofree char *journal = g_strconcat(path, "-journal", NULL);
  guint32 seed = (guint32)g_test_rand_int();
  GRand *random = g_rand_new_with_seed(seed);
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  int found = 0, n_hot = 0;
  cw_vehicle_set_description(vehicle, "0");
  g_object_unref(cw_project_create(path, vehicle, &error));
  g_assert_no_error(error);
  g_test_message("seed %u", seed);
  for (int i = 0; i < N_KILLS; i++) {
    int last = kill_once(path, found + 1, (guint)g_rand_int_range(random, 0, 25000));
    n_hot += g_file_test(journal, G_FILE_TEST_EXISTS);
    found = check_after(path, last);
  }
  g_test_message("%d commits, %d kills in the middle of one", found, n_hot);
  g_assert_cmpint(n_hot, >, N_KILLS / 20); /* the kills did fall where it hurts */
  g_rand_free(random);
  sample_remove_folder(folder);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/vehicle/kill/commits", test_kill);
  return g_test_run();
}
