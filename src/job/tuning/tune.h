/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/job_error.h"
#include "vehicle/kinds/kinds.h"
#include "vehicle/project/project.h"

G_BEGIN_DECLS

/* A tune in the making: gathered from the project in its own thread, computed in any, stored in its own
 * again. */
typedef struct CwTuneWork CwTuneWork;

/* Gathers the takes for a seat ("driver"), or NULL for all seats. NULL with error where something is missing:
 * it says what. */
CwTuneWork *cw_tune_work_new(CwProject *project, const char *seat, GError **error);
void cw_tune_work_free(CwTuneWork *work);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwTuneWork, cw_tune_work_free)

/* Computes. FALSE with G_IO_ERROR_CANCELLED if cancelled. */
gboolean cw_tune_work_run(CwTuneWork *work, GCancellable *cancellable, CwProgress progress, gpointer data,
                          GError **error);

/* Puts the tune into the project's vehicle, with findings and states up to date; the caller commits. */
void cw_tune_work_store(CwTuneWork *work, CwProject *project);

G_END_DECLS
