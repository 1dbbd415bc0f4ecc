/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/check/say_trouble.h"
#include <glib/gi18n-lib.h>
#include <math.h>

static const char *const names[CW_TROUBLES] = {
    [CW_TROUBLE_DROPOUT] = "take-dropout",
    [CW_TROUBLE_FRAMES_LOST] = "take-frames-lost",
    [CW_TROUBLE_FOREIGN_SOUND] = "take-foreign-sound",
    [CW_TROUBLE_CHANNELS_EXCHANGED] = "take-channels-exchanged",
    [CW_TROUBLE_RECORDED_LOW] = "take-recorded-low",
    [CW_TROUBLE_RECORDER_CLIPS] = "take-recorder-clips",
    [CW_TROUBLE_WHINE] = "lead-whine",
    [CW_TROUBLE_LIMITER] = "radio-limiter",
    [CW_TROUBLE_LEVEL] = "take-volume",
    [CW_TROUBLE_RECORDER_GAIN] = "take-recorder-gain",
    [CW_TROUBLE_INPUT_LEVEL] = "take-input-level",
    [CW_TROUBLE_BALANCE] = "take-balance",
    [CW_TROUBLE_FADER_OFF_CENTRE] = "take-fader-off-centre",
    [CW_TROUBLE_FADER_UNMOVED] = "fader-not-turned",
    [CW_TROUBLE_FADER_PART] = "fader-part-turned",
    [CW_TROUBLE_FADER_SAME] = "fader-same-end",
    [CW_TROUBLE_FADER_SWAPPED] = "fader-swapped",
    [CW_TROUBLE_TONE_CONTROL] = "take-tone-control",
    [CW_TROUBLE_STEERED] = "lead-steered",
    [CW_TROUBLE_MIXED] = "lead-mixed",
    [CW_TROUBLE_MIXED_BY_BAND] = "lead-mixed-by-band",
    [CW_TROUBLE_LINEAR_PHASE] = "lead-linear-phase",
    [CW_TROUBLE_TAKES_DISAGREE] = "takes-disagree",
};

const char *cw_trouble_name(CwTroubleCode code)
{
  return names[code];
}

static const char *track_of(const CwTrouble *t)
{
  return t->take == CW_TROUBLE_NO_TAKE ? "" : cw_stimulus_name((CwStimulusKind)t->take);
}

/* Of a recording that went wrong. */
static char *say_recording(const CwTrouble *t)
{
  switch (t->code) {
  case CW_TROUBLE_DROPOUT:
    return g_strdup_printf(
        _("the sound broke off for %.0f ms at %.1f s of the recording of \"%s\" (a dropout), as "
          "the sweep passed %.0f Hz: record it again"),
        t->db, t->seconds, track_of(t), t->hz);
  case CW_TROUBLE_FRAMES_LOST:
    return g_strdup_printf(
        _("%.2f ms of the recording of \"%s\" were lost, or the player skipped: its markers are "
          "not where the clock puts them. Close other programs and record it again"),
        t->db, track_of(t));
  case CW_TROUBLE_FOREIGN_SOUND:
    return g_strdup_printf(
        _("a foreign sound, such as a chime or speech, lies in the recording of \"%s\" at %.1f s, "
          "about %.0f Hz, strongest in lead %d: switch warning sounds and phones off and record "
          "it again"),
        track_of(t), t->seconds, t->hz, t->lead);
  case CW_TROUBLE_RECORDED_LOW:
    return g_strdup_printf(
        _("\"%s\" was recorded too low: it reaches %.0f dB below the recorder's full scale, and the "
          "steps of its numbers show. Turn the interface's gain up, or record with 24 bits"),
        track_of(t), -t->db);
  default:
    return g_strdup_printf(
        _("the interface's input cuts lead %d off flat in the recording of \"%s\", below its full "
          "scale: it is the recorder that clips, not the radio. Lower the gain, or divide the "
          "voltage down, and record it again"),
        t->lead, track_of(t));
  }
}

/* Of volume, balance and gain. */
static char *say_level(const CwTrouble *t)
{
  switch (t->code) {
  case CW_TROUBLE_LEVEL:
    return g_strdup_printf(
        _("the take \"%s\" is %+.1f dB off the volume that the others and the noted steps lead to: "
          "the volume was another than noted, or else the recorder's gain was changed"),
        track_of(t), t->db);
  case CW_TROUBLE_RECORDER_GAIN:
    return g_strdup_printf(
        _("the recorder's gain was %+.1f dB different in the take \"%s\": its noise changed with "
          "its level. Else the volume was turned"),
        t->db, track_of(t));
  case CW_TROUBLE_INPUT_LEVEL:
    return g_strdup_printf(
        _("lead %d is %.1f dB lower in the take \"%s\" than in all others: its input's gain was "
          "changed, or else its clip had a poor contact"),
        t->lead, t->db, track_of(t));
  case CW_TROUBLE_BALANCE:
    return g_strdup_printf(
        _("the balance was not at its centre in the take \"%s\": against the other takes the right "
          "leads are off by %+.1f dB against the left ones"),
        track_of(t), t->db);
  case CW_TROUBLE_FADER_OFF_CENTRE:
    return g_strdup_printf(
        _("the fader was not at its centre in the take \"%s\": some leads are %.1f dB lower in it "
          "than in the other takes"),
        track_of(t), t->db);
  case CW_TROUBLE_TONE_CONTROL:
    return g_strdup_printf(
        _("the bass is %+.1f dB off in the take \"%s\" though its volume is the survey's: a tone "
          "control was turned for it, or else for the others"),
        t->db, track_of(t));
  case CW_TROUBLE_LIMITER:
    return t->take == CW_STIMULUS_LOUD
               ? g_strdup_printf(
                     _("in the loud take the radio holds tones back from a track level of %.1f dBFS on "
                       "without distorting them: a limiter. The clean volume ends there"),
                     t->db)
               : g_strdup_printf(
                     _("softer tracks are shaped otherwise than the survey's, by up to %.1f dB over the "
                       "band: a limiter or compressor acts at the survey's volume, or else another sound "
                       "programme that follows the level"),
                     t->db);
  default:
    return g_strdup_printf(
        _("lead %d has another response in the take \"%s\" than in the others, by %.1f dB over the "
          "band: something disturbed it, such as speech or a poor contact, or a setting was "
          "changed"),
        t->lead, track_of(t), t->db);
  }
}

static char *say_fader(const CwTrouble *t)
{
  switch (t->code) {
  case CW_TROUBLE_FADER_UNMOVED:
    return g_strdup(
        _("no lead changed with the fader: it was not turned in the takes \"front\" and \"rear\", or else "
          "the radio has none"));
  case CW_TROUBLE_FADER_PART:
    return g_strdup_printf(
        _("the fader was not turned to its stop in the take \"%s\": the leads that it takes away "
          "fell by %.1f dB only"),
        track_of(t), -t->db);
  case CW_TROUBLE_FADER_SAME:
    return g_strdup(
        _("the same leads fell in the takes \"front\" and \"rear\": the fader was at the same end in "
          "both"));
  default:
    return g_strdup(
        _("by the fader's takes the rear leads carry more than the front ones: the fader was turned to "
          "the wrong end in both, front and rear swapped, or else the car is built that way"));
  }
}

static char *say_lead(const CwTrouble *t)
{
  switch (t->code) {
  case CW_TROUBLE_WHINE:
    return g_strdup_printf(
        _("lead %d carries a tone of %.0f Hz, %.0f dB below the recorder's full scale, while the "
          "track is silent: the alternator's whine, or else a charger's"),
        t->lead, t->hz, -t->db);
  case CW_TROUBLE_STEERED:
    return g_strdup_printf(
        _("lead %d is %.1f dB louder when both channels play the same: the radio steers it by what "
          "the channels have in common"),
        t->lead, t->db);
  case CW_TROUBLE_MIXED:
    return g_strdup_printf(_("lead %d plays a mix of %.2f of left and %.2f of right"), t->lead, t->left,
                           t->right);
  case CW_TROUBLE_MIXED_BY_BAND:
    return g_strdup_printf(
        _("lead %d plays another mix in the bass than above: %.2f of left and %.2f of right above, "
          "and %.2f of right to one of left in the bass"),
        t->lead, t->left, t->right, t->db);
  default:
    return g_strdup_printf(
        _("the filters of lead %d are linear-phase: they change its response and turn no phase"), t->lead);
  }
}

char *cw_trouble_say(const CwTrouble *t)
{
  switch (t->code) {
  case CW_TROUBLE_DROPOUT:
  case CW_TROUBLE_FRAMES_LOST:
  case CW_TROUBLE_FOREIGN_SOUND:
  case CW_TROUBLE_RECORDED_LOW:
  case CW_TROUBLE_RECORDER_CLIPS:
    return say_recording(t);
  case CW_TROUBLE_CHANNELS_EXCHANGED:
    return g_strdup_printf(
        _("the channels of leads %d and %d were exchanged in the take \"%s\": their fine response "
          "says so"),
        t->lead, t->other, track_of(t));
  case CW_TROUBLE_FADER_UNMOVED:
  case CW_TROUBLE_FADER_PART:
  case CW_TROUBLE_FADER_SAME:
  case CW_TROUBLE_FADER_SWAPPED:
    return say_fader(t);
  case CW_TROUBLE_WHINE:
  case CW_TROUBLE_STEERED:
  case CW_TROUBLE_MIXED:
  case CW_TROUBLE_MIXED_BY_BAND:
  case CW_TROUBLE_LINEAR_PHASE:
    return say_lead(t);
  default:
    return say_level(t);
  }
}
