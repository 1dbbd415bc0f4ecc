/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "survey/check/trouble.h"
#include "survey/leads/lead_response.h"

/* The checks of one recording against itself: they know the track, and what the leads made of it. Each fills
 * trouble and returns true if it found one; take, lead number and times are set, lead as the channel's place
 * plus one. */

/* Did the sound break off within a sweep, in any channel? By its envelope: it falls by 18 dB within a few
 * milliseconds and comes back, which no filter does to a sweep. */
bool cw_check_dropout(const CwRecordedTake *heard, CwTrouble *trouble);

/* Do the intervals between a track's three markers contradict each other, or one between two markers the
 * clock that other recordings told (ppm; NAN for none)? */
bool cw_check_clock(const CwRecordedTake *heard, double known_ppm, CwTrouble *trouble);

/* Were all channels recorded so softly that they move over few of the recorder's steps? */
bool cw_check_recorded_low(const CwRecordedTake *heard, CwTrouble *trouble);

/* A steady tone in a channel's silences that is not hum, by amplitude over what lies beside it in frequency.
 */
bool cw_check_whine(const CwRecordedTake *heard, size_t c, CwTrouble *trouble);

/* Is a channel cut off flat below full scale? A radio's rail is not flat at the recorder, for its coupling
 * lets the tops droop, and noise and hum ride on them. */
bool cw_check_recorder_clips(const CwRecordedTake *heard, CwTrouble *trouble);
