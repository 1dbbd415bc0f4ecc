/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/output_file.h"
#include <gio/gio.h>

G_BEGIN_DECLS

/* One verb of the console program. Its options are read before it runs; what is left on the line are its
 * arguments. */
typedef struct {
  const char *name;
  const char *arguments; /* "CAR INTAKE.json", for the usage line */
  const char *says;
  guint least, most;           /* how many arguments; all required ones */
  const GOptionEntry *entries; /* NULL-terminated; may be NULL */
  gboolean (*run)(char **arguments, gboolean json, GError **error);
} CwVerb;

extern const CwVerb cw_verbs_vehicle[], cw_verbs_survey[], cw_verbs_measuring[], cw_verbs_microphone[],
    cw_verbs_curve[], cw_verbs_map[], cw_verbs_tuning[], cw_verbs_practice[], cw_verbs_proof[],
    cw_verbs_handover[], cw_verbs_compare[];

/* What an output of this call may replace: what this program wrote, or with --force any plain file that is no
 * vehicle's. */
CwReplace cw_verb_replace(void);
void cw_verb_set_force(gboolean force);

/* Prints text to standard output, whole. Control characters but ends of line and tabs, which a file's texts
 * may hold and a terminal would obey, are shown as U+FFFD; JSON holds none. */
gboolean cw_print(const char *text, GError **error);

/* Text of which a terminal obeys nothing, the caller's; bytes that are no UTF-8 and control characters become
 * U+FFFD, and without lines ends of line a space. */
char *cw_printable(const char *text, gboolean lines);

/* A domain for what only the console says: wrong use of a verb, exit status 2. */
#define CW_USAGE_ERROR (cw_usage_error_quark())
GQuark cw_usage_error_quark(void);

G_END_DECLS
