/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sample.h"
#include "vehicle/json/document.h"
#include <errno.h>
#include <glib/gstdio.h>
#include <sqlite3.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

typedef struct {
  char *folder, *path;
} Place;

static void set_up(Place *place, gconstpointer data)
{
  place->folder = sample_folder();
  place->path = g_build_filename(place->folder, "J-0147.cabin", NULL);
}

static void tear_down(Place *place, gconstpointer data)
{
  sample_remove_folder(place->folder);
  g_free(place->folder);
  g_free(place->path);
}

static CwProject *create(const char *path)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  CwProject *project = cw_project_create(path, vehicle, &error);
  g_assert_no_error(error);
  return project;
}

static CwProject *reopen(const char *path)
{
  g_autoptr(GError) error = NULL;
  CwProject *project = cw_project_open(path, &error);
  g_assert_no_error(error);
  g_assert_null(cw_project_get_read_only_reason(project));
  return project;
}

/* Runs SQL on a file past the room, as somebody else's program would. */
static void run_sql(const char *path, const char *sql)
{
  sqlite3 *database;
  char *message = NULL;
  g_assert_cmpint(sqlite3_open(path, &database), ==, SQLITE_OK);
  sqlite3_exec(database, sql, NULL, NULL, &message);
  g_assert_cmpstr(message, ==, NULL);
  sqlite3_close(database);
}

/* Opening must fail with a message that begins with the path and ends so. */
static void check_refused(const char *path, int code, const char *rest)
{
  g_autoptr(GError) error = NULL;
  g_autofree char *message = g_strdup_printf("%s: %s", path, rest);
  g_assert_null(cw_project_open(path, &error));
  g_assert_error(error, CW_PROJECT_ERROR, code);
  g_assert_cmpstr(error->message, ==, message);
}

static guint count_files(const char *folder)
{
  guint n = 0;
  GDir *names = g_dir_open(folder, 0, NULL);
  while (g_dir_read_name(names))
    n++;
  g_dir_close(names);
  return n;
}

static void test_commit(Place *place, gconstpointer data)
{
  g_autoptr(GError) error = NULL;
  CwProject *project = create(place->path);
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_autoptr(CwSamples) samples = sample_samples(3);
  g_assert_true(cw_project_is_saved(project));
  sample_add_take(vehicle, "take-1", 1, 1, 100);
  cw_take_set_blob(cw_list_get(cw_vehicle_get_takes(vehicle), 0), "take-1");
  cw_project_put_samples(project, "take-1", samples);
  g_assert_false(cw_project_is_saved(project));
  g_assert_true(cw_project_commit(project, "Take of front left high", &error));
  g_assert_no_error(error);
  g_assert_true(cw_project_is_saved(project));
  g_autofree char *json = cw_record_to_json(vehicle, NULL);
  g_object_unref(project);
  g_assert_cmpuint(count_files(place->folder), ==, 1); /* no journal is left */

  project = reopen(place->path);
  g_autofree char *again = cw_record_to_json(cw_project_get_vehicle(project), NULL);
  g_assert_cmpstr(again, ==, json);
  sample_check_samples(project, "take-1", 3);
  g_assert_false(cw_project_has_samples(project, "take-2"));
  g_assert_null(cw_project_get_samples(project, "take-2", &error));
  g_assert_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_MISSING);
  g_clear_error(&error);
  g_autoptr(GPtrArray) work = cw_project_list_work(project, &error);
  g_assert_cmpuint(work->len, ==, 2);
  g_assert_cmpstr(((CwWork *)g_ptr_array_index(work, 1))->what, ==, "Take of front left high");
  g_autoptr(GPtrArray) wrong = g_ptr_array_new_with_free_func(g_free);
  g_object_unref(project);
  g_assert_true(cw_project_check(place->path, wrong));
}

static void test_undo(Place *place, gconstpointer data)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwProject) project = create(place->path);
  CwRecord *vehicle = cw_project_get_vehicle(project);
  cw_vehicle_set_description(vehicle, "Rowan Van");
  g_assert_true(cw_project_commit(project, "Change description", &error));
  g_assert_true(cw_project_undo(project, &error));
  g_assert_cmpstr(cw_vehicle_get_description(vehicle), ==, "Alder Tourer");
  g_clear_object(&project);
  project = reopen(place->path);
  g_assert_cmpstr(cw_vehicle_get_description(cw_project_get_vehicle(project)), ==, "Alder Tourer");
  g_assert_false(cw_project_undo(project, &error));
  g_assert_no_error(error);
}

static void test_restore_points(Place *place, gconstpointer data)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwProject) project = create(place->path);
  CwRecord *vehicle = cw_project_get_vehicle(project);
  g_autofree char *before = cw_record_to_json(vehicle, NULL);
  g_assert_true(cw_project_make_restore_point(project, "Hand-over", &error));
  g_assert_false(cw_project_make_restore_point(project, "Hand-over", &error));
  g_assert_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_EXISTS);
  g_clear_error(&error);
  cw_vehicle_set_description(vehicle, "Rowan Van");
  cw_list_remove(cw_vehicle_get_amplifiers(vehicle), 0);
  g_assert_true(cw_project_commit(project, "Change", &error));
  g_autofree char *after = cw_record_to_json(vehicle, NULL);
  g_autoptr(CwRecord) then = cw_project_read_restore_point(project, "Hand-over", &error);
  g_autofree char *read = cw_record_to_json(then, NULL);
  g_assert_cmpstr(read, ==, before);
  g_assert_true(cw_project_go_to_restore_point(project, "Hand-over", &error));
  g_autofree char *now = cw_record_to_json(vehicle, NULL);
  g_assert_cmpstr(now, ==, before);
  g_assert_true(cw_project_undo(project, &error));
  g_autofree char *undone = cw_record_to_json(vehicle, NULL);
  g_assert_cmpstr(undone, ==, after);
  g_assert_false(cw_project_go_to_restore_point(project, "Spring", &error));
  g_assert_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_MISSING);
  g_autoptr(GPtrArray) points = cw_project_list_restore_points(project, NULL);
  g_assert_cmpuint(points->len, ==, 1);
}

/* A vehicle that could not be read again is not written. */
static void test_commit_refuses(Place *place, gconstpointer data)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwProject) project = create(place->path);
  CwList *speakers = cw_vehicle_get_speakers(cw_project_get_vehicle(project));
  cw_list_remove(speakers, 2); /* the bass, which an amplifier's channel names */
  g_assert_false(cw_project_commit(project, "Remove the bass", &error));
  g_assert_error(error, CW_RECORD_ERROR, CW_RECORD_ERROR_REFERENCE);
  g_assert_true(
      g_str_has_suffix(error->message, ": amplifiers[0].channels[1].outputs[0]: no speaker is on output 9"));
  g_clear_object(&project);
  project = reopen(place->path);
  g_assert_cmpuint(cw_list_get_length(cw_vehicle_get_speakers(cw_project_get_vehicle(project))), ==, 3);
}

static void test_create_replaces_nothing(Place *place, gconstpointer data)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  g_assert_true(g_file_set_contents(place->path, "mine", -1, NULL));
  g_assert_null(cw_project_create(place->path, vehicle, &error));
  g_assert_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_EXISTS);
  g_assert_true(g_str_has_suffix(error->message, "J-0147.cabin: is already there"));
  g_autofree char *contents = NULL;
  g_assert_true(g_file_get_contents(place->path, &contents, NULL, NULL));
  g_assert_cmpstr(contents, ==, "mine");
  g_assert_cmpuint(count_files(place->folder), ==, 1);
  g_clear_error(&error);
  g_assert_null(cw_project_create("/no/such/folder/a.cabin", vehicle, &error));
  g_assert_cmpstr(error->message, ==, "/no/such/folder/a.cabin: No such file or directory");
}

static void test_no_project(Place *place, gconstpointer data)
{
  check_refused(place->path, CW_PROJECT_ERROR_STORAGE, "there is no such file");
  check_refused(place->folder, CW_PROJECT_ERROR_NOT_A_PROJECT, "is not a vehicle file");
  g_assert_true(g_file_set_contents(place->path, "", 0, NULL));
  check_refused(place->path, CW_PROJECT_ERROR_NOT_A_PROJECT, "is not a vehicle file but empty");
  g_autofree char *text = g_strnfill(5000, 'x');
  g_assert_true(g_file_set_contents(place->path, text, -1, NULL));
  check_refused(place->path, CW_PROJECT_ERROR_NOT_A_PROJECT, "is not a vehicle file");
  g_remove(place->path);
  run_sql(place->path, "CREATE TABLE document (id, json)"); /* SQLite, but another program's */
  check_refused(place->path, CW_PROJECT_ERROR_NOT_A_PROJECT, "is not a vehicle file");
  g_remove(place->path);
  g_assert_cmpint(mkfifo(place->path, 0600), ==, 0);
  check_refused(place->path, CW_PROJECT_ERROR_NOT_A_PROJECT, "is not a vehicle file");
}

static void test_newer(Place *place, gconstpointer data)
{
  g_object_unref(create(place->path));
  run_sql(place->path, "PRAGMA user_version = 7");
  check_refused(place->path, CW_PROJECT_ERROR_NEWER,
                "was written by a later version of this program (file version 7, known up to 3)");
}

static void test_foreign_schema(Place *place, gconstpointer data)
{
  static const char *const additions[] = {
      "CREATE TRIGGER t AFTER UPDATE ON document BEGIN DELETE FROM samples; END",
      "CREATE VIEW v AS SELECT * FROM document",
      "ALTER TABLE samples ADD COLUMN more TEXT",
      "CREATE INDEX i ON work_log (what)",
      "DROP TABLE samples",
  };
  for (guint i = 0; i < G_N_ELEMENTS(additions); i++) {
    g_object_unref(create(place->path));
    run_sql(place->path, additions[i]);
    check_refused(place->path, CW_PROJECT_ERROR_DAMAGED,
                  "the file does not have the tables of a vehicle file of version 3");
    g_remove(place->path);
  }
}

static void test_bad_document(Place *place, gconstpointer data)
{
  g_object_unref(create(place->path));
  run_sql(place->path, "UPDATE document SET json = replace(json, 'Alder', 'Elder')");
  check_refused(place->path, CW_PROJECT_ERROR_DAMAGED,
                "the file is damaged (the document is not as it was written)");
  run_sql(place->path, "DELETE FROM document");
  check_refused(place->path, CW_PROJECT_ERROR_DAMAGED, "the file is damaged (it has no document)");
}

/* An older file is brought up to date and kept beside; what it held, and what nobody knows, is there
 * afterwards. */
static void test_migration(Place *place, gconstpointer data)
{
  g_autoptr(GError) error = NULL;
  g_autofree char *original = NULL, *kept = NULL;
  gsize original_length, kept_length;
  run_sql(place->path, sample_version_1);
  g_assert_true(g_file_get_contents(place->path, &original, &original_length, NULL));

  CwProject *looked = cw_project_open_read_only(place->path, &error);
  g_assert_no_error(error);
  g_assert_cmpstr(cw_vehicle_get_reference(cw_project_get_vehicle(looked)), ==, "J-0147");
  g_object_unref(looked);
  g_assert_cmpuint(count_files(place->folder), ==, 1); /* reading only changes nothing */

  CwProject *project = reopen(place->path);
  g_autofree char *copy = g_strdup(cw_project_get_migration_copy(project));
  g_assert_true(g_str_has_suffix(copy, "/J-0147.version-1.cabin"));
  g_assert_true(g_file_get_contents(copy, &kept, &kept_length, NULL));
  g_assert_cmpmem(kept, kept_length, original, original_length);
  for (int i = 0; i < 3; i++) {
    g_autofree char *json = cw_record_to_json(cw_project_get_vehicle(project), NULL);
    g_assert_nonnull(strstr(json, "\"later\":{\"key\":[1,2.50]}"));
    g_assert_cmpuint(cw_list_get_length(cw_vehicle_get_takes(cw_project_get_vehicle(project))), ==, 1);
    g_autoptr(CwSamples) samples = cw_project_get_samples(project, "s", &error);
    g_assert_no_error(error);
    g_assert_cmpfloat(samples->values[0], ==, 1);
    g_assert_cmpfloat(samples->values[1], ==, -2);
    g_autoptr(CwRecord) then = cw_project_read_restore_point(project, "Spring", &error);
    g_assert_cmpstr(cw_vehicle_get_reference(then), ==, "old");
    cw_vehicle_set_description(cw_project_get_vehicle(project), "edited");
    g_assert_true(cw_project_commit(project, "Edit", &error));
    g_object_unref(project);
    project = reopen(place->path);
    g_assert_null(cw_project_get_migration_copy(project));
  }
  g_object_unref(project);
}

/* --- two that open one file --- */

/* Runs in a process of its own and returns what it returns. */
static int run_apart(int (*function)(const char *path), const char *path)
{
  pid_t child = fork();
  int status;
  if (child == 0)
    _exit(function(path));
  g_assert_cmpint(waitpid(child, &status, 0), ==, child);
  g_assert_true(WIFEXITED(status));
  return WEXITSTATUS(status);
}

/* What another program sees of a file: 2 if it may only read it, because somebody else has it. */
static int open_apart(const char *path)
{
  g_autoptr(CwProject) project = cw_project_open(path, NULL);
  if (!project)
    return 1;
  return g_strcmp0(cw_project_get_read_only_reason(project), "another program has it open") == 0 ? 2 : 3;
}

static int run_open_apart(const char *path)
{
  int status;
  const char *const command[] = {"/proc/self/exe", "--open-apart", path, NULL};
  g_assert_true(
      g_spawn_sync(NULL, (char **)command, NULL, G_SPAWN_DEFAULT, NULL, NULL, NULL, NULL, &status, NULL));
  g_assert_true(WIFEXITED(status));
  return WEXITSTATUS(status);
}

static void test_second_opener(Place *place, gconstpointer data)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwProject) first = create(place->path), second = cw_project_open(place->path, &error);
  g_assert_no_error(error);
  g_assert_cmpstr(cw_project_get_read_only_reason(second), ==, "it is already open in another window");
  g_assert_cmpint(run_open_apart(place->path), ==, 2);
  cw_vehicle_set_description(cw_project_get_vehicle(second), "Rowan Van");
  g_assert_false(cw_project_commit(second, "Change", &error));
  g_assert_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_READ_ONLY);
  g_assert_true(g_str_has_suffix(error->message, "cannot be changed: it is already open in another window"));
  g_clear_error(&error);
  g_clear_object(&second);
  cw_vehicle_set_description(cw_project_get_vehicle(first), "Rowan Van");
  g_assert_true(cw_project_commit(first, "Change", &error));
  g_assert_cmpint(run_open_apart(place->path), ==,
                  2); /* the second's end has not given the first's lock away */
}

/* Whoever held a file and was killed holds it no longer. */
static void test_killed_opener(Place *place, gconstpointer data)
{
  int ends[2], status;
  char byte;
  g_object_unref(create(place->path));
  g_assert_cmpint(pipe(ends), ==, 0);
  pid_t child = fork();
  if (child == 0) {
    CwProject *project = cw_project_open(place->path, NULL);
    if (!project || write(ends[1], "o", 1) != 1)
      _exit(1);
    for (;;)
      pause();
  }
  g_assert_cmpint(read(ends[0], &byte, 1), ==, 1);
  CwProject *second = cw_project_open(place->path, NULL);
  g_assert_cmpstr(cw_project_get_read_only_reason(second), ==, "another program has it open");
  g_object_unref(second);
  kill(child, SIGKILL);
  waitpid(child, &status, 0);
  g_object_unref(reopen(place->path));
  close(ends[0]);
  close(ends[1]);
}

/* --- where nothing may be written --- */

/* As somebody without rights, for root may write anywhere. */
static int open_in_locked_folder(const char *path)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  g_autofree char *other = g_strconcat(path, ".other", NULL);
  if (getuid() == 0 && setuid(65534) != 0)
    return 1;
  g_autoptr(CwProject) project = cw_project_open(path, &error);
  if (!project)
    return 2;
  if (g_strcmp0(cw_project_get_read_only_reason(project), "its folder may not be written") != 0)
    return 3;
  if (cw_project_create(other, vehicle, &error) || !error)
    return 4;
  g_autofree char *message = g_strdup_printf("%s: Permission denied", other);
  return strcmp(error->message, message) == 0 ? 0 : 5;
}

static void test_locked_folder(Place *place, gconstpointer data)
{
  g_object_unref(create(place->path));
  g_assert_cmpint(chmod(place->path, 0666), ==, 0);
  g_assert_cmpint(chmod(place->folder, 0555), ==, 0);
  g_assert_cmpint(run_apart(open_in_locked_folder, place->path), ==, 0);
  g_assert_cmpint(chmod(place->folder, 0755), ==, 0);
  g_assert_cmpuint(count_files(place->folder), ==, 1);
}

/* Where the file system has no nameless files, a new file is written under another name first; nothing is
 * left of that. */
int __real_linkat(int from_folder, const char *from, int to_folder, const char *to, int flags);
int __wrap_linkat(int from_folder, const char *from, int to_folder, const char *to, int flags);
static gboolean no_linkat;

int __wrap_linkat(int from_folder, const char *from, int to_folder, const char *to, int flags)
{
  if (!no_linkat)
    return __real_linkat(from_folder, from, to_folder, to, flags);
  errno = EPERM;
  return -1;
}

static void test_create_without_nameless_files(Place *place, gconstpointer data)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  no_linkat = TRUE;
  g_object_unref(create(place->path));
  g_assert_cmpuint(count_files(place->folder), ==, 1);
  g_object_unref(reopen(place->path));
  g_assert_null(cw_project_create(place->path, vehicle, &error));
  g_assert_error(error, CW_PROJECT_ERROR, CW_PROJECT_ERROR_EXISTS);
  g_assert_cmpuint(count_files(place->folder), ==, 1);
  no_linkat = FALSE;
}

#define ADD(subject, function)                                                                               \
  g_test_add("/vehicle/project/" subject, Place, NULL, set_up, function, tear_down)

int main(int argc, char **argv)
{
  if (argc == 3 && strcmp(argv[1], "--open-apart") == 0)
    return open_apart(argv[2]);
  g_test_init(&argc, &argv, NULL);
  ADD("commit", test_commit);
  ADD("undo", test_undo);
  ADD("restore-points", test_restore_points);
  ADD("commit-refuses", test_commit_refuses);
  ADD("create-replaces-nothing", test_create_replaces_nothing);
  ADD("create-without-nameless-files", test_create_without_nameless_files);
  ADD("no-project", test_no_project);
  ADD("newer", test_newer);
  ADD("foreign-schema", test_foreign_schema);
  ADD("bad-document", test_bad_document);
  ADD("migration", test_migration);
  ADD("second-opener", test_second_opener);
  ADD("killed-opener", test_killed_opener);
  ADD("locked-folder", test_locked_folder);
  return g_test_run();
}
