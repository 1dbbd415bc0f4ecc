/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/handover/compare.h"

#include "job/findings/review.h"
#include <glib/gi18n-lib.h>
#include <math.h>
#include <string.h>

/* From when on a change is one of the car: wider than what another microphone place and another day make of
 * octaves averaged over a seat. Common practice, no source. */
#define LEVEL_DB 3.0
#define FAILED_DB 20.0
#define BAND_DB 6.0
#define ARRIVAL_MS 0.25

/* A change that has been put into words. */
typedef struct {
  const CwComparison *comparison;
  CwRecord *vehicle;
} Finder;

static void add(const Finder *finder, const CwOutputChange *change, CwSeverity severity, const char *text,
                const char *advice, const char *format, ...) G_GNUC_PRINTF(6, 7);

static void add(const Finder *finder, const CwOutputChange *change, CwSeverity severity, const char *text,
                const char *advice, const char *format, ...)
{
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *figures = g_strdup_vprintf(format, arguments);
  va_end(arguments);
  /* Translators: a speaker's name and output, then what happened to it. */
  g_autofree char *whole = g_strdup_printf(_("%s (output %d): %s"), change->name, (int)change->output, text);
  g_autofree char *evidence = g_strdup_printf(_("Since “%s”, at %u positions: %s"), finder->comparison->since,
                                              MAX(change->positions, change->refused), figures);
  cw_job_add_finding(finder->vehicle, "changed-since", severity, CW_STAGE_HAND_OVER, change->output, whole,
                     evidence, advice);
}

static void judge_output(const Finder *finder, const CwOutputChange *c)
{
  if ((c->refused > 0 && c->positions == 0) || c->level_db < -FAILED_DB) {
    add(finder, c, CW_SEVERITY_STOP, _("plays no more."),
        _("Look for a loose plug, a blown fuse or a failed amplifier channel; then measure the speaker's "
          "resistance."),
        c->positions ? _("%.0f dB less than before.") : _("nothing of the sweep was heard."), -c->level_db);
    return;
  }
  if (c->swapped)
    add(finder, c, CW_SEVERITY_ATTEND, _("its polarity was swapped."),
        _("Swap the two wires where work was done, or invert the output in the tune."),
        _("the takes are as surely of one polarity now as they were of the other."));
  if (!isnan(c->rattle_hz))
    add(finder, c, CW_SEVERITY_ATTEND, _("something has come loose and rattles."),
        _("Press on speaker, grille and panels while a slow sweep plays; fasten what moves."),
        _("a rattle near %.0f Hz that was not there."), c->rattle_hz);
  if (fabs(c->level_db) > LEVEL_DB)
    add(finder, c, CW_SEVERITY_ATTEND,
        c->level_db < 0 ? _("it has become quieter.") : _("it has become louder."),
        _("Look at the amplifier's gain, at the processor's output gain, and at the speaker's wiring."),
        _("%+.1f dB against the other speakers."), c->level_db);
  else if (fabs(c->band_db) > BAND_DB)
    add(finder, c, CW_SEVERITY_ATTEND, _("its sound has changed."),
        _("Look whether the speaker still sits tight in its place, and whether anything covers it."),
        _("%+.1f dB in the octave around %.0f Hz against the rest of its band."), c->band_db, c->band_hz);
  if (fabs(c->arrival_ms) > ARRIVAL_MS)
    add(finder, c, CW_SEVERITY_ATTEND,
        c->arrival_ms > 0 ? _("its sound comes later.") : _("its sound comes earlier."),
        _("Look whether the speaker was moved, and whether a delay was set somewhere else."),
        _("%+.2f ms against the other speakers."), c->arrival_ms);
}

static void judge_settings(const Finder *finder)
{
  guint count = 0;
  const CwChange *first = NULL;
  for (guint i = 0; i < finder->comparison->changes->len; i++) {
    const CwChange *change = g_ptr_array_index(finder->comparison->changes, i);
    if (!g_str_has_prefix(change->path, "tune.outputs") && !g_str_has_prefix(change->path, "tune.voicing") &&
        !g_str_has_prefix(change->path, "tune.inputs"))
      continue;
    first = first ? first : change;
    count++;
  }
  if (count == 0)
    return;
  g_autofree char *text = g_strdup_printf(
      ngettext("%u setting of the tune differs.", "%u settings of the tune differ.", count), count);
  g_autofree char *evidence =
      g_strdup_printf(_("Since “%s”; the first: %s, from %s to %s."), finder->comparison->since, first->what,
                      *first->said_before ? first->said_before : _("nothing"),
                      *first->said_after ? first->said_after : _("nothing"));
  cw_job_add_finding(finder->vehicle, "changed-since", CW_SEVERITY_NOTE, CW_STAGE_HAND_OVER, 0, text,
                     evidence,
                     _("If nobody meant it, go back to the restore point and load its table again."));
}

void cw_comparison_find(const CwComparison *comparison, CwRecord *vehicle)
{
  CwList *findings = cw_vehicle_get_findings(vehicle);
  Finder finder = {comparison, vehicle};
  for (guint i = cw_list_get_length(findings); i-- > 0;)
    if (g_str_equal(cw_finding_get_code(cw_list_get(findings, i)), "changed-since"))
      cw_list_remove(findings, i);
  for (guint i = 0; i < comparison->n_outputs; i++)
    judge_output(&finder, &comparison->outputs[i]);
  judge_settings(&finder);
  cw_job_set_stage_states(vehicle);
}
