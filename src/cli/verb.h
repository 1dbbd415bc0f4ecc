/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
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

/* Prints text to standard output, whole. */
gboolean cw_print(const char *text, GError **error);

/* A domain for what only the console says: wrong use of a verb, exit status 2. */
#define CW_USAGE_ERROR (cw_usage_error_quark())
GQuark cw_usage_error_quark(void);

G_END_DECLS
