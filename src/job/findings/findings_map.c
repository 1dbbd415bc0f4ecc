/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/findings/review.h"
#include "job/map/map_check.h"
#include <glib/gi18n-lib.h>
#include <math.h>

#define SURE 0.5    /* of a polarity's confidence */
#define HALF_DB 6.0 /* of a voltage that is halved */
#define HALF_APART_DB 2.5
#define ALL_OF_IT 0.9 /* likeness above which nothing of an output's own speaker is left */

static const char *name_of(CwRecord *vehicle, gint64 output)
{
  CwRecord *speaker = cw_vehicle_find_speaker(vehicle, output);
  return speaker ? cw_speaker_get_name(speaker) : "";
}

static void add(CwRecord *vehicle, const char *code, gint64 output, const char *text, const char *evidence,
                const char *advice)
{
  cw_job_add_finding(vehicle, code, CW_SEVERITY_ATTEND, CW_STAGE_MAP, output, text, evidence, advice);
}

static void find_silent(CwRecord *vehicle, gint64 output)
{
  g_autofree char *text =
      g_strdup_printf(_("%s (output %d) does not sound."), name_of(vehicle, output), (int)output);
  add(vehicle, "speaker-silent", output, text, _("The proving run's sweep was not heard above the noise."),
      _("Check the wire from the output to the amplifier, the amplifier's channel and fuse, and the "
        "speaker's terminals."));
}

/* All of them silent: that is none of the speakers. */
static void find_all_silent(CwRecord *vehicle, guint count)
{
  g_autofree char *evidence = g_strdup_printf(_("None of %u outputs was heard in the proving run."), count);
  add(vehicle, "speaker-silent", 0, _("No speaker sounds."), evidence,
      _("Check that the amplifiers are switched on, that the processor plays what it is fed, and that the "
        "microphone hears."));
}

static void find_shared(CwRecord *vehicle, CwRecord *proof)
{
  gint64 output = cw_map_proof_get_output(proof), other = cw_map_proof_get_same_as(proof);
  double likeness = cw_map_proof_get_likeness(proof);
  g_autofree char *evidence =
      g_strdup_printf(_("At both places %.0f %% of what is heard is the same as with output %d."),
                      100 * likeness, (int)other);
  g_autofree char *text =
      likeness >= ALL_OF_IT
          ? g_strdup_printf(_("Outputs %d and %d sound the same speaker: %s or %s."), (int)output, (int)other,
                            name_of(vehicle, output), name_of(vehicle, other))
          : g_strdup_printf(_("Output %d (%s) and output %d (%s) reach a speaker in common."), (int)output,
                            name_of(vehicle, output), (int)other, name_of(vehicle, other));

  add(vehicle, "speaker-misplaced", output, text, evidence,
      _("Follow the two wires: one amplifier channel per output, a bridged pair fed from one output alone, "
        "and no mix of one output into the other."));
}

static const char *say_side(int side)
{
  return side == CW_SIDE_LEFT    ? _("on the left")
         : side == CW_SIDE_RIGHT ? _("on the right")
                                 : _("in the middle");
}

static void find_elsewhere(CwRecord *vehicle, CwRecord *proof)
{
  gint64 output = cw_map_proof_get_output(proof), like = cw_map_proof_get_sounds_like(proof);
  g_autofree char *text = g_strdup_printf(_("Output %d does not play %s: it sounds like %s."), (int)output,
                                          name_of(vehicle, output), name_of(vehicle, like));
  g_autofree char *evidence =
      g_strdup_printf(_("Heard %s, from %.0f Hz to %.0f Hz, %.2f ms left and %.2f ms right of the head."),
                      say_side(cw_map_proof_get_heard_side(proof)), cw_map_proof_get_low_hz(proof),
                      cw_map_proof_get_high_hz(proof), cw_map_proof_get_arrival_left_ms(proof),
                      cw_map_proof_get_arrival_right_ms(proof));

  add(vehicle, "speaker-misplaced", output, text, evidence,
      _("Put the wires where the map says, or change the map; then prove both outputs again."));
}

/* Whether the amplifier's channel that drives the output is one of a bridged pair, by the sheet. */
static gboolean is_bridged(CwRecord *vehicle, gint64 output)
{
  CwList *amplifiers = cw_vehicle_get_amplifiers(vehicle);

  for (guint a = 0; a < cw_list_get_length(amplifiers); a++) {
    CwList *channels = cw_amplifier_get_channels(cw_list_get(amplifiers, a));
    for (guint i = 0; i < cw_list_get_length(channels); i++) {
      CwRecord *channel = cw_list_get(channels, i);
      const CwNumbers *outputs = cw_amplifier_channel_get_outputs(channel);
      for (guint k = 0; outputs && k < outputs->n_rows; k++)
        if ((gint64)cw_numbers_at(outputs, k, 0) == output &&
            cw_amplifier_channel_get_bridged_with(channel) != CW_NO_INTEGER)
          return TRUE;
    }
  }
  return FALSE;
}

/* A bridged pair with one dead half gives half the voltage, which is 6 dB; so does many another thing. */
static void find_quiet(CwRecord *vehicle, CwRecord *proof)
{
  gint64 output = cw_map_proof_get_output(proof), twin = cw_map_proof_get_quieter_than(proof);
  double quieter_db = cw_map_proof_get_quieter_db(proof);
  gboolean half = is_bridged(vehicle, output) && fabs(quieter_db - HALF_DB) < HALF_APART_DB;
  g_autofree char *text =
      g_strdup_printf(_("%s (output %d) is %.0f dB quieter than %s."), name_of(vehicle, output), (int)output,
                      quieter_db, name_of(vehicle, twin));
  g_autofree char *evidence = g_strdup_printf(
      _("Both sound alike but for the level, which in the cabin's echoes is %.1f dB lower at both places, "
        "the distance taken off; sound pairs stay within 4 dB."),
      quieter_db);

  add(vehicle, "speaker-quiet", output, text, evidence,
      half ? _("Maybe one half of its bridged pair is dead: measure the voltage of both channels against "
               "ground while noise "
               "plays. Otherwise compare the gains of both sides.")
           : _("Compare the gains of both sides, then the voltage at the amplifier and at the speaker's "
               "terminals."));
}

static gboolean has_takes(CwRecord *vehicle, gint64 output)
{
  CwList *takes = cw_vehicle_get_takes(vehicle);

  for (guint i = 0; i < cw_list_get_length(takes); i++)
    if (cw_take_get_output(cw_list_get(takes, i)) == output && cw_take_get_accepted(cw_list_get(takes, i)))
      return TRUE;
  return FALSE;
}

static gboolean surely_inverted(CwRecord *proof)
{
  return cw_map_proof_get_polarity(proof) == CW_POLARITY_INVERTED &&
         cw_map_proof_get_polarity_confidence(proof) > SURE;
}

/* What the takes of the measuring stage say better as soon as there are any. */
static void find_by_sound(CwRecord *vehicle, CwRecord *proof, gboolean all_inverted)
{
  gint64 output = cw_map_proof_get_output(proof);
  double rattle_hz = cw_map_proof_get_rattle_hz(proof);

  if (has_takes(vehicle, output))
    return;
  if (surely_inverted(proof) && !all_inverted) {
    g_autofree char *text =
        g_strdup_printf(_("%s (output %d) is wired in reverse."), name_of(vehicle, output), (int)output);
    g_autofree char *evidence = g_strdup_printf(_("The proving run is %.0f %% sure."),
                                                100 * cw_map_proof_get_polarity_confidence(proof));
    add(vehicle, "speaker-inverted", output, text, evidence,
        _("Swap the two wires at the speaker or the amplifier; or leave it and let the tune invert this "
          "output."));
  }
  if (!isnan(rattle_hz)) {
    g_autofree char *text = g_strdup_printf(_("Something rattles when %s (output %d) plays near %.0f Hz."),
                                            name_of(vehicle, output), (int)output, rattle_hz);
    add(vehicle, "speaker-rattle", output, text, _("Heard in the proving run."),
        _("Play a slow sweep around that frequency and press on panels, grille and wiring until it stops; "
          "then fasten or damp what moved."));
  }
}

void cw_job_find_map(CwRecord *vehicle)
{
  CwList *proofs = cw_vehicle_get_map_proofs(vehicle);
  guint tried = 0, silent = 0, inverted = 0, count = cw_list_get_length(proofs);

  cw_vehicle_clear_findings(vehicle, CW_STAGE_MAP);
  for (guint i = 0; i < count; i++) {
    CwRecord *proof = cw_list_get(proofs, i);
    int sounded = cw_map_proof_get_sounded(proof);
    tried += sounded != CW_SOUNDED_UNTRIED;
    silent += sounded == CW_SOUNDED_SILENT;
    inverted += sounded == CW_SOUNDED_HEARD && surely_inverted(proof);
  }
  if (tried > 1 && silent == tried) {
    find_all_silent(vehicle, tried);
    return;
  }
  for (guint i = 0; i < count; i++) {
    CwRecord *proof = cw_list_get(proofs, i);
    gint64 output = cw_map_proof_get_output(proof), like = cw_map_proof_get_sounds_like(proof),
           same = cw_map_proof_get_same_as(proof);
    if (cw_map_proof_get_sounded(proof) == CW_SOUNDED_SILENT)
      find_silent(vehicle, output);
    if (cw_map_proof_get_sounded(proof) != CW_SOUNDED_HEARD)
      continue;
    if (same != CW_NO_INTEGER)
      find_shared(vehicle, proof);
    else if (like != CW_NO_INTEGER && like != output)
      find_elsewhere(vehicle, proof);
    if (cw_map_proof_get_quieter_than(proof) != CW_NO_INTEGER)
      find_quiet(vehicle, proof);
    find_by_sound(vehicle, proof, tried > silent + 1 && inverted == tried - silent);
  }
}
