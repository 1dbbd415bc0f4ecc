/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "failing-vfs.h"
#include "sample.h"
#include "vehicle/json/document.h"

#include <glib/gstdio.h>
#include <sched.h>
#include <signal.h>
#include <sqlite3.h>
#include <string.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

/* A project with some takes in it, as bytes. */
static void make_base(const char *path, char **bytes, gsize *length)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  for (int i = 0; i < 5; i++) {
    g_autofree char *id = g_strdup_printf("take-%d", i);
    sample_add_take(vehicle, id, 1, i, 60);
  }
  g_autoptr(CwProject) project = cw_project_create(path, vehicle, &error);
  g_assert_no_error(error);
  for (int i = 0; i < 5; i++) {
    g_autofree char *id = g_strdup_printf("take-%d", i);
    g_autoptr(CwSamples) samples = sample_samples(i);
    cw_project_put_samples(project, id, samples);
  }
  g_assert_true(cw_project_commit(project, "Takes", &error));
  g_assert_true(cw_project_make_restore_point(project, "Before", &error));
  g_clear_object(&project);
  g_assert_true(g_file_get_contents(path, bytes, length, NULL));
}

/* Writes a file anew; over an old one it would be synced, and there are hundreds. */
static void put_file(const char *path, const char *bytes, gsize length)
{
  g_remove(path);
  g_assert_true(g_file_set_contents(path, bytes, (gssize)length, NULL));
}

/* --- the n-th write fails --- */

/* One commit with a disk that fails: TRUE if it says that it is safe. */
static gboolean commit_once(const char *path, int number)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwProject) project = cw_project_open(path, &error);
  g_autofree char *text = g_strdup_printf("edit %d", number);
  g_autoptr(CwSamples) samples = sample_samples(number);
  if (!project)
    return FALSE;
  cw_vehicle_set_description(cw_project_get_vehicle(project), text);
  cw_project_put_samples(project, "new", samples);
  gboolean good = cw_project_commit(project, text, &error);
  g_assert_true(good || (error && g_str_has_prefix(error->message, path)));
  g_assert_cmpint(good, ==, cw_project_is_saved(project));
  return good;
}

/* The file is wholly as before or wholly as after; as after if that was promised. */
static void check_either(const char *path, int number, gboolean promised)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(GPtrArray) wrong = g_ptr_array_new_with_free_func(g_free);
  g_autoptr(CwProject) project = cw_project_open(path, &error);
  g_assert_no_error(error);
  g_autofree char *text = g_strdup_printf("edit %d", number);
  gboolean after = g_str_equal(cw_vehicle_get_description(cw_project_get_vehicle(project)), text);
  if (after)
    sample_check_samples(project, "new", number);
  else
    g_assert_false(promised || cw_project_has_samples(project, "new"));
  g_clear_object(&project);
  if (!cw_project_check(path, wrong))
    g_error("%s", (char *)g_ptr_array_index(wrong, 0));
}

static void test_failing_writes(gconstpointer data)
{
  int code = GPOINTER_TO_INT(data);
  g_autofree char *folder = sample_folder(), *path = g_build_filename(folder, "J-0147.cabin", NULL),
                  *bytes = NULL;
  gsize length;
  guint n_failed = 0;
  make_base(path, &bytes, &length);
  for (int stays = 0; stays < 2; stays++)
    for (guint n = 1;; n++) {
      g_autofree char *journal = g_strconcat(path, "-journal", NULL);
      g_remove(journal);
      put_file(path, bytes, length);
      failing_vfs_set(n, stays, code);
      gboolean promised = commit_once(path, (int)n);
      gboolean reached = failing_vfs_count() >= n;
      failing_vfs_set(0, FALSE, 0);
      check_either(path, (int)n, promised);
      n_failed += !promised;
      if (!reached) {
        g_assert_true(promised);
        break;
      }
    }
  g_assert_cmpuint(n_failed, >, 10);
  sample_remove_folder(folder);
}

static void make_version_1(const char *path, char **bytes, gsize *length)
{
  sqlite3 *database;
  g_assert_cmpint(sqlite3_open(path, &database), ==, SQLITE_OK);
  g_assert_cmpint(sqlite3_exec(database, sample_version_1, NULL, NULL, NULL), ==, SQLITE_OK);
  sqlite3_close(database);
  g_assert_true(g_file_get_contents(path, bytes, length, NULL));
}

/* An older file whose migration fails is still the older one, or already the newer one; nothing of it is
 * lost. */
static void test_failing_migration(void)
{
  g_autofree char *folder = sample_folder(), *path = g_build_filename(folder, "J-0147.cabin", NULL);
  g_autofree char *bytes = NULL;
  gsize length;
  make_version_1(path, &bytes, &length);
  for (int stays = 0; stays < 2; stays++) {
    gboolean reached = TRUE;
    for (guint n = 1; reached; n++) {
      g_autoptr(GError) error = NULL;
      g_autofree char *journal = g_strconcat(path, "-journal", NULL);
      put_file(path, bytes, length);
      g_remove(journal);
      failing_vfs_set(n, stays, SQLITE_IOERR_WRITE);
      CwProject *project = cw_project_open(path, &error);
      reached = failing_vfs_count() >= n;
      g_assert_true(project || reached);
      g_clear_object(&project);
      g_clear_error(&error);
      failing_vfs_set(0, FALSE, 0);
      project = cw_project_open(path, &error);
      g_assert_no_error(error);
      g_assert_cmpstr(cw_vehicle_get_reference(cw_project_get_vehicle(project)), ==, "J-0147");
      g_assert_true(cw_project_has_samples(project, "s"));
      g_object_unref(project);
      GDir *names = g_dir_open(folder, 0, NULL);
      const char *name;
      while ((name = g_dir_read_name(names))) { /* the copies kept of each try */
        g_autofree char *copy = g_build_filename(folder, name, NULL);
        g_remove(copy);
      }
      g_dir_close(names);
    }
  }
  sample_remove_folder(folder);
}

/* After a commit that failed, the next one takes all the edits with it. */
static void test_next_commit(void)
{
  g_autofree char *folder = sample_folder(), *path = g_build_filename(folder, "J-0147.cabin", NULL),
                  *bytes = NULL;
  g_autoptr(GError) error = NULL;
  gsize length;
  make_base(path, &bytes, &length);
  CwProject *project = cw_project_open(path, &error);
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_autoptr(CwSamples) samples = sample_samples(8);
  cw_vehicle_set_description(vehicle, "first");
  cw_project_put_samples(project, "new", samples);
  failing_vfs_set(1, TRUE, SQLITE_FULL);
  g_assert_false(cw_project_commit(project, "First", &error));
  g_assert_true(g_str_has_suffix(error->message, ": the disk is full"));
  g_assert_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_STORAGE);
  g_clear_error(&error);
  g_assert_false(cw_history_can_undo(cw_project_get_history(project)));
  failing_vfs_set(0, FALSE, 0);
  cw_speaker_set_name(cw_vehicle_find_speaker(vehicle, 1), "second");
  g_assert_true(cw_project_commit(project, "Second", &error));
  g_assert_true(cw_project_is_saved(project));
  failing_vfs_set(1, TRUE, SQLITE_FULL);
  g_assert_false(cw_project_undo(project, &error));
  g_assert_nonnull(error);
  g_assert_cmpstr(cw_vehicle_get_description(vehicle), ==, "first"); /* the vehicle stays with the file */
  failing_vfs_set(0, FALSE, 0);
  g_object_unref(project);
  project = cw_project_open(path, NULL);
  vehicle = cw_project_get_vehicle(project);
  g_assert_cmpstr(cw_vehicle_get_description(vehicle), ==, "first");
  g_assert_cmpstr(cw_speaker_get_name(cw_vehicle_find_speaker(vehicle, 1)), ==, "second");
  sample_check_samples(project, "new", 8);
  g_object_unref(project);
  sample_remove_folder(folder);
}

/* --- damaged files --- */

/* Opens what may be damaged: refused with one line, or just what was written. */
static gboolean check_refused_or_same(const char *path, const char *json)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(GPtrArray) wrong = g_ptr_array_new_with_free_func(g_free);
  g_autoptr(CwProject) project = cw_project_open(path, &error);
  gboolean whole = cw_project_check(path, wrong);
  if (!project) {
    g_assert_true(g_str_has_prefix(error->message, path));
    g_assert_null(strchr(error->message, '\n'));
    g_assert_false(whole);
    return FALSE;
  }
  g_autofree char *found = cw_record_to_json(cw_project_get_vehicle(project), NULL);
  g_assert_cmpstr(found, ==, json);
  for (int i = 0; i < 5; i++) {
    g_autofree char *id = g_strdup_printf("take-%d", i);
    g_autoptr(CwSamples) samples = cw_project_get_samples(project, id, NULL);
    if (samples)
      sample_check_samples(project, id, i);
    else
      g_assert_false(whole);
  }
  g_autoptr(CwRecord) then = cw_project_read_restore_point(project, "Before", NULL);
  g_autofree char *then_json = then ? cw_record_to_json(then, NULL) : NULL;
  if (then)
    g_assert_cmpstr(then_json, ==, json);
  return TRUE;
}

static char *document_of(const char *path)
{
  g_autoptr(CwProject) project = cw_project_open_read_only(path, NULL);
  return cw_record_to_json(cw_project_get_vehicle(project), NULL);
}

static void test_cut_file(void)
{
  g_autofree char *folder = sample_folder(), *path = g_build_filename(folder, "J-0147.cabin", NULL),
                  *bytes = NULL;
  gsize length;
  make_base(path, &bytes, &length);
  g_autofree char *json = document_of(path);
  for (guint i = 0; i < 50; i++) {
    put_file(path, bytes, length * i / 50);
    g_assert_false(check_refused_or_same(path, json));
  }
  sample_remove_folder(folder);
}

static void flip_bits(guint32 seed)
{
  g_autofree char *folder = sample_folder(), *path = g_build_filename(folder, "J-0147.cabin", NULL),
                  *bytes = NULL;
  GRand *random = g_rand_new_with_seed(seed);
  gsize length;
  guint n_refused = 0;
  g_test_message("seed %u", seed);
  make_base(path, &bytes, &length);
  g_autofree char *json = document_of(path);
  for (int i = 0; i < 300; i++) {
    g_autofree char *damaged = g_memdup2(bytes, length);
    gsize at = i < 100 ? (gsize)i : (gsize)g_rand_int(random) % length; /* the header, then anywhere */
    damaged[at] ^= (char)(1 << g_rand_int_range(random, 0, 8));
    put_file(path, damaged, length);
    n_refused += !check_refused_or_same(path, json);
  }
  g_test_message("%u of 300 refused, the others unharmed", n_refused);
  g_assert_cmpuint(n_refused, >, 20);
  g_rand_free(random);
  sample_remove_folder(folder);
}

/* The first three once found: a name that is no text, samples under another's name, and another sample rate.
 */
static void test_flipped_bits(void)
{
  flip_bits(3201735094u);
  flip_bits(2753412960u);
  flip_bits(1769268385u);
  flip_bits((guint32)g_test_rand_int());
}

/* --- full disks --- */

static int create_within_limit(const char *path)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  struct rlimit limit = {8192, 8192};
  signal(SIGXFSZ, SIG_IGN);
  if (setrlimit(RLIMIT_FSIZE, &limit) != 0)
    return 1;
  if (cw_project_create(path, vehicle, &error))
    return 2;
  g_autofree char *message = g_strdup_printf("%s: File too large", path);
  return g_strcmp0(error->message, message) == 0 ? 0 : 3;
}

static int run_apart(int (*function)(const char *), const char *path)
{
  int status;
  pid_t child = fork();
  if (child == 0)
    _exit(function(path));
  g_assert_cmpint(waitpid(child, &status, 0), ==, child);
  g_assert_true(WIFEXITED(status));
  return WEXITSTATUS(status);
}

/* A project file that does not fit is not there at all. */
static void test_create_too_large(void)
{
  g_autofree char *folder = sample_folder(), *path = g_build_filename(folder, "J-0147.cabin", NULL);
  g_assert_cmpint(run_apart(create_within_limit, path), ==, 0);
  sample_remove_folder(folder); /* fails if anything is left in it */
  g_assert_false(g_file_test(folder, G_FILE_TEST_EXISTS));
}

#define CANNOT_MOUNT 77

/* Commits on a file system of 400 kB of its own until it is full. */
static int fill_disk(const char *folder)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  g_autofree char *path = g_build_filename(folder, "a.cabin", NULL),
                  *other = g_build_filename(folder, "b.cabin", NULL);
  g_autofree char *filler = g_build_filename(folder, "filler", NULL), *zeros = g_malloc0(400000);
  if (unshare(CLONE_NEWNS) != 0 || mount("none", "/", NULL, MS_REC | MS_PRIVATE, NULL) != 0 ||
      mount("tmpfs", folder, "tmpfs", 0, "size=400k") != 0)
    return CANNOT_MOUNT;
  CwProject *project = cw_project_create(path, vehicle, &error);
  int n_done = 0;
  for (; project && n_done < 1000; n_done++) {
    g_autofree char *text = g_strdup_printf("%d", n_done + 1), *name = g_strdup_printf("s-%d", n_done + 1);
    g_autoptr(CwSamples) samples = cw_samples_new(48000, 1, 5000, NULL);
    cw_project_put_samples(project, name, samples);
    cw_vehicle_set_description(cw_project_get_vehicle(project), text);
    if (!cw_project_commit(project, text, &error))
      break;
  }
  if (!error || !g_str_has_suffix(error->message, "a.cabin: the disk is full") || n_done < 3)
    return 1;
  g_clear_object(&project);
  g_clear_error(&error);
  project = cw_project_open(path, &error);
  if (!project || atoi(cw_vehicle_get_description(cw_project_get_vehicle(project))) != n_done)
    return 2;
  g_file_set_contents(filler, zeros, 400000, NULL);
  for (int n = 8192; n > 0; n /= 2) { /* to the last byte */
    FILE *file = fopen(filler, "a");
    while (file && fwrite(zeros, 1, (gsize)n, file) == (gsize)n && fflush(file) == 0)
      ;
    if (file)
      fclose(file);
  }
  if (cw_project_create(other, vehicle, &error) ||
      !g_str_has_suffix(error->message, "b.cabin: the disk is full"))
    return 3;
  return g_file_test(other, G_FILE_TEST_EXISTS) ? 4 : 0;
}

static void test_full_disk(void)
{
  g_autofree char *folder = sample_folder();
  int result = run_apart(fill_disk, folder);
  sample_remove_folder(folder);
  if (result == CANNOT_MOUNT)
    g_test_skip("a small file system cannot be mounted here");
  else
    g_assert_cmpint(result, ==, 0);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  failing_vfs_install();
  g_test_add_data_func("/vehicle/faults/failing-writes", GINT_TO_POINTER(SQLITE_IOERR_WRITE),
                       test_failing_writes);
  g_test_add_data_func("/vehicle/faults/full-writes", GINT_TO_POINTER(SQLITE_FULL), test_failing_writes);
  g_test_add_func("/vehicle/faults/failing-migration", test_failing_migration);
  g_test_add_func("/vehicle/faults/next-commit", test_next_commit);
  g_test_add_func("/vehicle/faults/cut-file", test_cut_file);
  g_test_add_func("/vehicle/faults/flipped-bits", test_flipped_bits);
  g_test_add_func("/vehicle/faults/create-too-large", test_create_too_large);
  g_test_add_func("/vehicle/faults/full-disk", test_full_disk);
  return g_test_run();
}
