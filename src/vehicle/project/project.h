/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/project/history.h"

G_BEGIN_DECLS

/* A vehicle and its file (*.cabin): an SQLite database that holds the vehicle's document, the samples of its
 * takes, its restore points and a log of the work. Every commit is one transaction that is on the disk when
 * the call returns: a power cut loses what was not committed and nothing else. Belongs to one thread.
 * Properties: "path", "read-only", "vehicle", "history", "saved". */
#define CW_TYPE_PROJECT (cw_project_get_type())
G_DECLARE_FINAL_TYPE(CwProject, cw_project, CW, PROJECT, GObject)

#define CW_PROJECT_ERROR (cw_project_error_quark())
GQuark cw_project_error_quark(void);

typedef enum {
  CW_PROJECT_ERROR_NOT_A_PROJECT, /* the file is something else */
  CW_PROJECT_ERROR_NEWER,         /* written by a later version of the program */
  CW_PROJECT_ERROR_DAMAGED,
  CW_PROJECT_ERROR_READ_ONLY,
  CW_PROJECT_ERROR_EXISTS,
  CW_PROJECT_ERROR_MISSING, /* no such restore point or samples */
  CW_PROJECT_ERROR_STORAGE, /* the disk is full or fails, the folder cannot be written */
} CwProjectError;

CwProject *cw_project_create(const char *path, CwRecord *vehicle, GError **error);
CwProject *cw_project_open(const char *path, GError **error);
CwProject *cw_project_open_read_only(const char *path, GError **error);

const char *cw_project_get_path(CwProject *project);
const char *cw_project_get_read_only_reason(CwProject *project);
const char *cw_project_get_migration_copy(CwProject *project);
CwRecord *cw_project_get_vehicle(CwProject *project);
CwHistory *cw_project_get_history(CwProject *project);
gboolean cw_project_is_saved(CwProject *project);

gboolean cw_project_commit(CwProject *project, const char *what, GError **error);
gboolean cw_project_commit_merging(CwProject *project, const char *what, const char *merge_key,
                                   GError **error);
gboolean cw_project_undo(CwProject *project, GError **error);
gboolean cw_project_redo(CwProject *project, GError **error);

/* Samples: frames of interleaved channels. */
typedef struct {
  double rate_hz;
  guint n_channels;
  gsize n_frames;
  float *values;
} CwSamples;

CwSamples *cw_samples_new(double rate_hz, guint n_channels, gsize n_frames, const float *values);
void cw_samples_free(CwSamples *samples);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwSamples, cw_samples_free)

void cw_project_put_samples(CwProject *project, const char *name, const CwSamples *samples);
CwSamples *cw_project_get_samples(CwProject *project, const char *name, GError **error);
gboolean cw_project_has_samples(CwProject *project, const char *name);

/* Restore points: the vehicle's document at a time, under a name. */
typedef struct {
  gint64 id;
  char *name;
  char *made_utc; /* 2026-03-05T09:30:00Z */
} CwRestorePoint;

void cw_restore_point_free(CwRestorePoint *point);

gboolean cw_project_make_restore_point(CwProject *project, const char *name, GError **error);
GPtrArray *cw_project_list_restore_points(CwProject *project, GError **error);
CwRecord *cw_project_read_restore_point(CwProject *project, const char *name, GError **error);
gboolean cw_project_go_to_restore_point(CwProject *project, const char *name, GError **error);

/* What was done and when, the latest last. */
typedef struct {
  char *done_utc;
  char *what;
} CwWork;

void cw_work_free(CwWork *work);
GPtrArray *cw_project_list_work(CwProject *project, GError **error);

gboolean cw_project_check(const char *path, GPtrArray *wrong);
char *cw_now_utc(void);

G_END_DECLS
