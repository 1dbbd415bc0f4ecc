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

/* Writes a new project file with a vehicle, of which it holds a copy, and opens it. Nothing that is there is
 * replaced; on a fault, nothing is left. */
CwProject *cw_project_create(const char *path, CwRecord *vehicle, GError **error);

/* Opens a project file to read and write it. Where it cannot be written, or is open already, it is opened to
 * be read, and cw_project_get_read_only_reason() says why. An older file is brought to this version and kept
 * beside. NULL, with one line that begins with the path, if it is no project file, is of a later version or
 * is damaged. */
CwProject *cw_project_open(const char *path, GError **error);

/* Opens a project file to read it only, whoever else has it open. */
CwProject *cw_project_open_read_only(const char *path, GError **error);

/* The path that the project was opened by; borrowed. */
const char *cw_project_get_path(CwProject *project);

/* Why nothing can be committed ("another program has it open"), NULL if it can; borrowed. */
const char *cw_project_get_read_only_reason(CwProject *project);

/* Where the file is kept as it was before it was brought to this version, NULL if that was not needed;
 * borrowed. */
const char *cw_project_get_migration_copy(CwProject *project);

/* The live vehicle; borrowed. */
CwRecord *cw_project_get_vehicle(CwProject *project);

/* Undo and redo; borrowed. Undo by cw_project_undo(), so that the file follows. */
CwHistory *cw_project_get_history(CwProject *project);

/* TRUE if the file holds all that the vehicle does. */
gboolean cw_project_is_saved(CwProject *project);

/* Makes what was edited since the last commit one step of the history, and puts it on the disk together with
 * the samples that were put. When it returns TRUE, all of it is safe. FALSE if the vehicle is at fault (a
 * name used twice, a speaker named that is not there), if the file may not be written, or if the disk fails:
 * the file is then as it was, the vehicle keeps the edits, and the next commit takes them. */
gboolean cw_project_commit(CwProject *project, const char *what, GError **error);

/* The same for edits of one thing that follow each other: see cw_history_record(). */
gboolean cw_project_commit_merging(CwProject *project, const char *what, const char *merge_key,
                                   GError **error);

/* Takes the last step back, in the vehicle and in the file. FALSE without an error if there is none; FALSE
 * with an error, and the vehicle as it was, if the file could not follow. */
gboolean cw_project_undo(CwProject *project, GError **error);

/* Brings the step last undone again, in the same way. */
gboolean cw_project_redo(CwProject *project, GError **error);

/* Samples: frames of interleaved channels. */
typedef struct {
  double rate_hz;
  guint n_channels;
  gsize n_frames;
  float *values;
} CwSamples;

/* Samples with a copy of the values (interleaved; NULL for silence); the caller owns them. */
CwSamples *cw_samples_new(double rate_hz, guint n_channels, gsize n_frames, const float *values);
void cw_samples_free(CwSamples *samples);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwSamples, cw_samples_free)

/* Puts samples (copied) under a name, in place of those that are there. They are in the file with the next
 * commit. */
void cw_project_put_samples(CwProject *project, const char *name, const CwSamples *samples);

/* The samples under a name, read from the file now; the caller frees them. NULL if there are none or they are
 * damaged. */
CwSamples *cw_project_get_samples(CwProject *project, const char *name, GError **error);

/* TRUE if there are samples under a name, without reading them. */
gboolean cw_project_has_samples(CwProject *project, const char *name);

/* Restore points: the vehicle's document at a time, under a name. */
typedef struct {
  gint64 id;
  char *name;
  char *made_utc; /* 2026-03-05T09:30:00Z */
} CwRestorePoint;

/* Frees it; NULL is let pass. */
void cw_restore_point_free(CwRestorePoint *point);

/* Keeps the vehicle as it stands under a name, which must not be empty or taken. Edits not committed yet are
 * committed. */
gboolean cw_project_make_restore_point(CwProject *project, const char *name, GError **error);

/* The restore points, the oldest first: an array of CwRestorePoint that the caller unrefs. */
GPtrArray *cw_project_list_restore_points(CwProject *project, GError **error);

/* The vehicle as it was at a restore point; the caller owns it. */
CwRecord *cw_project_read_restore_point(CwProject *project, const char *name, GError **error);

/* Brings the vehicle back to a restore point, in place, as one step that can be undone. */
gboolean cw_project_go_to_restore_point(CwProject *project, const char *name, GError **error);

/* What was done and when, the latest last. */
typedef struct {
  char *done_utc;
  char *what;
} CwWork;

/* Frees an entry of the work log; NULL is let pass. */
void cw_work_free(CwWork *work);

/* The log of the work, the latest last: an array of CwWork that the caller unrefs. */
GPtrArray *cw_project_list_work(CwProject *project, GError **error);

/* Looks through a whole project file and changes nothing: a line for each thing that is wrong is added to the
 * array, whose strings it must free. TRUE if there was none. */
gboolean cw_project_check(const char *path, GPtrArray *wrong);

/* The time now, as the file writes it; the caller frees it. */
char *cw_now_utc(void);

G_END_DECLS
