/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/findings/findings_trouble.h"
#include "job/survey/survey_record.h"
#include "survey/check/say_trouble.h"
#include <glib/gi18n-lib.h>

typedef struct {
  CwSeverity severity;
  const char *text, *advice;
} Words;

#define AGAIN                                                                                                \
  N_("Record that take again, then read the recordings again. Until then the figures that it touches are "   \
     "marked as doubtful.")
#define ALLOWED N_("It was allowed for. For certainty, put it right and record that take again.")

/* clang-format off */
static const Words words[CW_TROUBLES] = {
  [CW_TROUBLE_DROPOUT] = {CW_SEVERITY_ATTEND, N_("The sound broke off in a recording."), AGAIN},
  [CW_TROUBLE_FRAMES_LOST] = {CW_SEVERITY_ATTEND, N_("A part of a recording was lost."), AGAIN},
  [CW_TROUBLE_FOREIGN_SOUND] = {CW_SEVERITY_ATTEND, N_("A sound that is not the track's lies in a recording."), AGAIN},
  [CW_TROUBLE_CHANNELS_EXCHANGED] = {CW_SEVERITY_ATTEND, N_("Two leads were exchanged in a recording."),
    N_("They were put right for the survey. Check the clips and the interface's inputs before anything else is recorded.")},
  [CW_TROUBLE_RECORDED_LOW] = {CW_SEVERITY_ATTEND, N_("A recording is too low."), AGAIN},
  [CW_TROUBLE_RECORDER_CLIPS] = {CW_SEVERITY_ATTEND, N_("The interface clips, not the radio."), AGAIN},
  [CW_TROUBLE_WHINE] = {CW_SEVERITY_ATTEND, N_("A whine lies on the leads."),
    N_("Switch the engine and chargers off, feed radio and interface from the battery alone, check the ground, and record again.")},
  [CW_TROUBLE_LIMITER] = {CW_SEVERITY_ATTEND, N_("The radio limits or compresses loud sound."),
    N_("Look for a volume levelling or a sound programme in the radio's menus and switch it off, or survey at a lower volume. Drive the processor no louder than the clean volume.")},
  [CW_TROUBLE_LEVEL] = {CW_SEVERITY_ATTEND, N_("A take was recorded at another volume than noted."),
    N_("Set the volume step that the take asks for, leave the interface's gain alone, and record it again. Levels and the clean volume that rest on it are in doubt.")},
  [CW_TROUBLE_RECORDER_GAIN] = {CW_SEVERITY_ATTEND, N_("The interface's gain was changed between takes."),
    N_("Set one gain for all takes and record those again that had another.")},
  [CW_TROUBLE_INPUT_LEVEL] = {CW_SEVERITY_ATTEND, N_("A lead's level was another in one take."), ALLOWED},
  [CW_TROUBLE_BALANCE] = {CW_SEVERITY_ATTEND, N_("The balance was not at its centre in a take."), ALLOWED},
  [CW_TROUBLE_FADER_OFF_CENTRE] = {CW_SEVERITY_ATTEND, N_("The fader was not at its centre in a take."), ALLOWED},
  [CW_TROUBLE_FADER_UNMOVED] = {CW_SEVERITY_ATTEND, N_("The fader's takes show no fader."),
    N_("If the radio has a fader, turn it fully to the front and to the rear for the two takes and record them again. Until then front and rear are not told apart.")},
  [CW_TROUBLE_FADER_PART] = {CW_SEVERITY_NOTE, N_("The fader was turned only in part."),
    N_("Front and rear could be told all the same. Turn it to its stop for certainty.")},
  [CW_TROUBLE_FADER_SAME] = {CW_SEVERITY_ATTEND, N_("The fader was at the same end in both takes."),
    N_("Record the takes \"front\" and \"rear\" again with the fader fully at the end that each is named after.")},
  [CW_TROUBLE_FADER_SWAPPED] = {CW_SEVERITY_ATTEND, N_("The fader may have been turned to the wrong end in both takes."),
    N_("Listen which speakers play with the fader at the front. If they are the rear ones, the two takes are swapped: record them again.")},
  [CW_TROUBLE_TONE_CONTROL] = {CW_SEVERITY_ATTEND, N_("A tone control was turned between takes."),
    N_("Set bass and treble to their centre, leave them there, and record all takes again.")},
  [CW_TROUBLE_STEERED] = {CW_SEVERITY_ATTEND, N_("The radio steers a lead."),
    N_("Switch the surround or centre mode off and record again. Do not add this lead to others: what it plays depends on the music.")},
  [CW_TROUBLE_MIXED] = {CW_SEVERITY_ATTEND, N_("A lead plays a mix of left and right."),
    N_("Switch surround and stage modes off. Where it stays, do not use the lead for a side: what both channels have in common comes out at another level than what one has alone.")},
  [CW_TROUBLE_MIXED_BY_BAND] = {CW_SEVERITY_ATTEND, N_("A lead's mix of left and right goes by frequency."),
    N_("Use the lead only in the band in which it plays what is wanted, or take the bass from another lead.")},
  [CW_TROUBLE_LINEAR_PHASE] = {CW_SEVERITY_NOTE, N_("The radio's equaliser is linear-phase."),
    N_("Its delay and polarity are told. The correction's filters turn phase where they change the level; leads of one kind stay alike.")},
  [CW_TROUBLE_TAKES_DISAGREE] = {CW_SEVERITY_ATTEND, N_("Takes of one lead disagree."), AGAIN},
};
/* clang-format on */

static void find_trouble(CwRecord *vehicle, const CwTrouble *t)
{
  CwRecord *finding =
      cw_vehicle_add_finding(vehicle, cw_trouble_name(t->code), words[t->code].severity, CW_STAGE_SIGNAL);
  g_autofree char *evidence = cw_trouble_say(t);
  g_autofree char *first = g_utf8_strup(evidence, (gssize)(g_utf8_next_char(evidence) - evidence));
  g_autofree char *sentence = g_strdup_printf("%s%s.", first, g_utf8_next_char(evidence));

  if (t->lead > 0)
    cw_about_set_lead(cw_finding_make_about(finding), t->lead);
  cw_finding_set_text(finding, _(words[t->code].text));
  cw_finding_set_evidence(finding, sentence);
  cw_finding_set_advice(finding, _(words[t->code].advice));
}

void cw_job_find_troubles(CwRecord *vehicle, CwRecord *survey)
{
  CwList *troubles = cw_survey_get_troubles(survey);

  for (guint i = 0; i < cw_list_get_length(troubles); i++) {
    CwTrouble t;
    if (cw_job_read_trouble(cw_list_get(troubles, i), &t))
      find_trouble(vehicle, &t);
  }
}
