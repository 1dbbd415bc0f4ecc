/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/job_error.h"
#include "job/tuning/tune_wish.h"
#include "vehicle/kinds/kinds.h"
#include "vehicle/project/project.h"

G_BEGIN_DECLS

/* A tune in the making: gathered from the project in its own thread, computed in any, stored in its own
 * again. */
typedef struct CwTuneWork CwTuneWork;

/* Gathers the takes for a seat ("driver"), or NULL for all seats, and what the wish (or NULL) and the locks
 * of the tune hold. NULL with error where something is missing: it says what. */
CwTuneWork *cw_tune_work_new(CwProject *project, const char *seat, const CwTuneWish *wish, GError **error);
void cw_tune_work_free(CwTuneWork *work);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwTuneWork, cw_tune_work_free)

/* Computes. FALSE with G_IO_ERROR_CANCELLED if cancelled. */
gboolean cw_tune_work_run(CwTuneWork *work, GCancellable *cancellable, CwProgress progress, gpointer data,
                          GError **error);

/* Puts one of the three tunes into the project's vehicle, all three and the one before among its
 * alternatives, with findings and states up to date; the caller commits. */
void cw_tune_work_store(CwTuneWork *work, CwProject *project, CwProposalChoice choice);

/* The names of the choices: "closest", "simplest", "steadiest"; NULL beyond. And back; CW_PROPOSAL_CHOICES
 * for another word. */
const char *cw_tune_choice_name(int choice);
CwProposalChoice cw_tune_choice_of_name(const char *name);

/* Takes an alternative of the vehicle's tune, by its name, in place of what is in use, which stays among
 * them. FALSE with error where there is none of that name; the caller commits. */
gboolean cw_tune_take_alternative(CwRecord *vehicle, const char *name, GError **error);

G_END_DECLS
