/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/verb.h"
#include <glib/gstdio.h>
#include <locale.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>

enum { DONE = 0, AT_FAULT = 1, WRONG_USAGE = 2 };

static const CwVerb *const groups[] = {cw_verbs_vehicle,   cw_verbs_survey,     cw_verbs_map,
                                       cw_verbs_measuring, cw_verbs_microphone, cw_verbs_curve,
                                       cw_verbs_tuning,    cw_verbs_proof,      cw_verbs_handover,
                                       cw_verbs_compare,   cw_verbs_practice};

static const CwVerb *find_verb(const char *name)
{
  for (guint g = 0; g < G_N_ELEMENTS(groups); g++)
    for (const CwVerb *verb = groups[g]; verb->name; verb++)
      if (g_str_equal(verb->name, name))
        return verb;
  return NULL;
}

static void print_usage(FILE *to)
{
  fprintf(to, "cabinwright-cli VERB ... [--json]\n\n");
  for (guint g = 0; g < G_N_ELEMENTS(groups); g++)
    for (const CwVerb *verb = groups[g]; verb->name; verb++)
      fprintf(to, "  %-10s %-34s %s\n", verb->name, verb->arguments, verb->says);
  fprintf(to, "\ncabinwright-cli VERB --help lists a verb's options.\n");
}

/* One line, whatever the message held. */
static void complain(const char *message)
{
  g_autofree char *line = cw_printable(message, FALSE);
  fprintf(stderr, "%s\n", line);
}

static const char *path_of(const GOptionEntry *entry)
{
  return entry->arg == G_OPTION_ARG_FILENAME ? *(char **)entry->arg_data : NULL;
}

static gboolean is_output(const GOptionEntry *entry)
{
  return g_str_equal(entry->long_name, "out") || g_str_equal(entry->long_name, "feed");
}

static gboolean same_file(const char *one, const char *other)
{
  GStatBuf first, second;

  return one && other && g_stat(one, &first) == 0 && g_stat(other, &second) == 0 &&
         first.st_dev == second.st_dev && first.st_ino == second.st_ino;
}

/* What a call reads it never writes. */
static gboolean keep_inputs(const CwVerb *verb, char **arguments, GError **error)
{
  for (const GOptionEntry *out = verb->entries; out && out->long_name; out++) {
    gboolean read = FALSE;
    if (!is_output(out) || !path_of(out))
      continue;
    for (char **argument = arguments; *argument; argument++)
      read |= same_file(path_of(out), *argument);
    for (const GOptionEntry *in = verb->entries; in->long_name; in++)
      read |= !is_output(in) && same_file(path_of(out), path_of(in));
    if (read) {
      g_set_error(error, CW_USAGE_ERROR, 0,
                  "%s: is read by this call, so it cannot be written; choose another name", path_of(out));
      return FALSE;
    }
  }
  return TRUE;
}

/* "--" ends the options; what follows are names, whatever they begin with. */
static void drop_end_of_options(char **line)
{
  for (; *line; line++)
    if (g_str_equal(*line, "--")) {
      g_free(*line);
      memmove(line, line + 1, (g_strv_length(line + 1) + 1) * sizeof *line);
      return;
    }
}

static int run_verb(const CwVerb *verb, int argc, char **argv)
{
  g_autofree char *summary = g_strdup_printf("%s", verb->says),
                  *form = g_strdup_printf("%s", verb->arguments);
  g_autoptr(GOptionContext) context = g_option_context_new(form);
  g_autoptr(GError) error = NULL;
  g_auto(GStrv) line = g_strdupv(argv);
  gboolean json = FALSE, force = FALSE;
  const GOptionEntry common[] = {
      {"json", 0, 0, G_OPTION_ARG_NONE, &json, "Print machine-readable JSON", NULL},
      {"force", 0, 0, G_OPTION_ARG_NONE, &force,
       "Replace files that this program did not write; never a vehicle file", NULL},
      {0}};

  g_option_context_set_summary(context, summary);
  g_option_context_add_main_entries(context, common, NULL);
  if (verb->entries)
    g_option_context_add_main_entries(context, verb->entries, NULL);
  if (!g_option_context_parse_strv(context, &line, &error)) {
    complain(error->message);
    return WRONG_USAGE;
  }
  drop_end_of_options(line + 1);
  cw_verb_set_force(force);
  argc = (int)g_strv_length(line) - 1;
  if (argc < (int)verb->least || argc > (int)verb->most) {
    fprintf(stderr, "usage: cabinwright-cli %s %s\n", verb->name, verb->arguments);
    return WRONG_USAGE;
  }
  if (keep_inputs(verb, line + 1, &error) && verb->run(line + 1, json, &error))
    return DONE;
  if (g_error_matches(error, CW_JOB_ERROR, CW_JOB_ERROR_FOREIGN))
    g_prefix_error_literal(&error, "--force would replace it: ");
  complain(error ? error->message : "it did not work, and nothing says why");
  return error && error->domain == CW_USAGE_ERROR ? WRONG_USAGE : AT_FAULT;
}

int main(int argc, char **argv)
{
  const CwVerb *verb;

  setlocale(LC_ALL, "");
  signal(SIGPIPE, SIG_IGN);
  if (argc < 2 || g_str_equal(argv[1], "--help") || g_str_equal(argv[1], "-h")) {
    print_usage(argc < 2 ? stderr : stdout);
    return argc < 2 ? WRONG_USAGE : DONE;
  }
  if (g_str_equal(argv[1], "--version")) {
    puts("cabinwright-cli " CW_VERSION);
    return DONE;
  }
  verb = find_verb(argv[1]);
  if (!verb) {
    fprintf(stderr, "%s: no such verb; cabinwright-cli --help lists them\n", argv[1]);
    return WRONG_USAGE;
  }
  g_set_prgname("cabinwright-cli");
  return run_verb(verb, argc - 1, argv + 1);
}
