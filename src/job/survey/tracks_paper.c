/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/survey/tracks_paper.h"
#include "handover/paper.h"
#include <glib/gi18n-lib.h>
#include <math.h>

/* What to play in which order, with room for what was noted. */
static void compose_table(CwPaper *paper, CwRecord *index)
{
  const CwPaperColumn columns[] = {{_("No."), 0.5, TRUE},          {_("Track"), 1.6, FALSE},
                                   {_("Length"), 0.8, TRUE},       {_("Volume"), 1, FALSE},
                                   {_("Balance"), 1, FALSE},       {_("Fader"), 0.9, FALSE},
                                   {_("Step played"), 1.2, FALSE}, {_("Recorded as"), 1.9, FALSE}};
  CwList *takes = cw_track_index_get_takes(index), *tracks = cw_track_index_get_tracks(index);
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);

  for (guint i = 0; i < cw_list_get_length(takes); i++) {
    CwRecord *take = cw_list_get(takes, i),
             *track = cw_list_find_text_at(tracks, CW_TRACK_FIELD_FILE, cw_track_take_get_track(take));
    g_ptr_array_add(cells, g_strdup_printf("%u", i + 1));
    g_ptr_array_add(cells, g_strdup(cw_track_take_get_track(take)));
    g_ptr_array_add(cells, g_strdup_printf(_("%.0f s"), ceil(cw_track_get_seconds(track))));
    g_ptr_array_add(cells, g_strdup(cw_track_take_say_volume(take)));
    g_ptr_array_add(cells, g_strdup(cw_track_take_say_balance(take)));
    g_ptr_array_add(cells, g_strdup(cw_track_take_say_fader(take)));
    g_ptr_array_add(cells, g_strdup("............"));
    g_ptr_array_add(cells, g_strdup("........................"));
  }
  cw_paper_table(paper, columns, G_N_ELEMENTS(columns), (const char *const *)cells->pdata,
                 cw_list_get_length(takes));
}

static void compose_tracks(CwPaper *paper, CwRecord *index)
{
  CwList *takes = cw_track_index_get_takes(index), *tracks = cw_track_index_get_tracks(index);

  for (guint i = 0; i < cw_list_get_length(takes); i++) {
    CwRecord *take = cw_list_get(takes, i),
             *track = cw_list_find_text_at(tracks, CW_TRACK_FIELD_FILE, cw_track_take_get_track(take));
    g_autofree char *mark = g_strdup_printf("%u", i + 1),
                    *holds = g_strdup_printf("%s.", cw_track_get_says(track)),
                    *why = g_strdup_printf("%s.", cw_track_take_get_why(take));
    cw_paper_item(paper, mark, why, holds);
  }
}

/* The tone for the multimeter, with room for its reading. */
static void compose_volts(CwPaper *paper, CwRecord *index)
{
  CwList *tracks = cw_track_index_get_tracks(index);
  CwRecord *track = cw_list_get(tracks, cw_list_get_length(tracks) - 1);
  g_autofree char *text = g_strdup_printf(
      _("%s, once, before or after the takes: %s. Play it at the survey's volume, with balance and fader at "
        "the centre and the recorder's input as for the takes. Set the multimeter to volts AC, hold it on "
        "the two wires of one lead that is being recorded and that carries the bass, record five seconds, "
        "and note what it reads, with three digits."),
      cw_track_get_file(track), cw_track_get_says(track));

  cw_paper_heading(paper, _("For levels in volts"));
  cw_paper_text(paper, text);
  cw_paper_text(paper, _("Lead  ............      Multimeter  ........................ V"));
}

static void compose(CwPaper *paper, gpointer data)
{
  CwRecord *index = data;

  cw_paper_title(paper, _("Test tracks for the factory radio"));
  cw_paper_heading(paper, _("Before"));
  cw_paper_text(paper,
                _("Copy the sound files to a USB stick, or whatever the radio plays without loss. Set tone "
                  "controls, sound effects and seat setting as the customer has "
                  "them, and balance to the centre. Clip the interface onto the leads before the factory "
                  "speakers, and disconnect these at least for the loud track: its tones end at "
                  "full level."));
  cw_paper_text(paper, _("Survey: about two thirds of the volume scale. Quiet: a quarter of the scale less. "
                         "Loud: the top of the scale. Write the steps down."));
  cw_paper_heading(paper, _("Play and record in this order"));
  compose_table(paper, index);
  cw_paper_text(paper, _("Start the recording first, then the track, and stop the recording when the track "
                         "has ended. Do not touch the radio in between. With two channels alone, "
                         "record each lead beside the same reference lead."));
  cw_paper_heading(paper, _("What each is for"));
  compose_tracks(paper, index);
  compose_volts(paper, index);
  cw_paper_heading(paper, _("After"));
  cw_paper_text(paper, _("Stop the player, and turn the volume down. If a seat setting or loudness was "
                         "found, switch it off in the radio's menus and record again."));
}

GBytes *cw_job_track_paper(CwRecord *index, gint64 made_unix, GError **error)
{
  CwPaperInfo info = {.title = _("Test tracks for the factory radio"),
                      .subject = _("What to play, how, and why"),
                      .creator = "Cabinwright",
                      .foot = _("Factory signal"),
                      .made_unix = made_unix};
  return cw_paper_make(&info, compose, index, error);
}
