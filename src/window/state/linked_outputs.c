/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/state/linked_outputs.h"

#include <math.h>

/* Filters count as the same when nobody would tell them apart. */
#define SAME_FREQUENCY 1e-3
#define SAME_GAIN_DB 0.02
#define SAME_Q 1e-2

gint64 cw_pair_of(CwRecord *vehicle, gint64 output)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  guint count = cw_list_get_length(speakers);
  g_autofree gint64 *pair = g_new(gint64, MAX(count, 1));
  for (guint i = 0; i < count; i++)
    pair[i] = CW_NO_INTEGER;
  for (guint a = 0; a < count; a++)
    for (guint b = a + 1; b < count && pair[a] == CW_NO_INTEGER; b++) {
      CwRecord *one = cw_list_get(speakers, a), *other = cw_list_get(speakers, b);
      int side = cw_speaker_get_side(one), other_side = cw_speaker_get_side(other);
      gboolean opposite = (side == CW_SIDE_LEFT && other_side == CW_SIDE_RIGHT) ||
                          (side == CW_SIDE_RIGHT && other_side == CW_SIDE_LEFT);
      if (pair[b] != CW_NO_INTEGER || !opposite || cw_speaker_get_way(one) != cw_speaker_get_way(other))
        continue;
      pair[a] = cw_speaker_get_output(other);
      pair[b] = cw_speaker_get_output(one);
    }
  for (guint i = 0; i < count; i++)
    if (cw_speaker_get_output(cw_list_get(speakers, i)) == output)
      return pair[i];
  return CW_NO_INTEGER;
}

static CwRecord *find_output(CwRecord *vehicle, gint64 output)
{
  CwRecord *tune = vehicle ? cw_vehicle_get_tune(vehicle) : NULL;
  return tune ? cw_list_find_integer_at(cw_tune_get_outputs(tune), CW_TUNE_OUTPUT_FIELD_OUTPUT, output)
              : NULL;
}

static void add_once(GArray *outputs, gint64 output)
{
  for (guint i = 0; i < outputs->len; i++)
    if (g_array_index(outputs, gint64, i) == output)
      return;
  g_array_append_val(outputs, output);
}

/* The outputs that an edit reaches, the edited one first. */
static GArray *reached(CwSession *session, gint64 edited)
{
  CwRecord *vehicle = cw_session_get_vehicle(session);
  GArray *outputs = g_array_new(FALSE, FALSE, sizeof(gint64));
  const GArray *chosen = cw_session_get_outputs(session);
  g_array_append_val(outputs, edited);
  for (guint i = 0; cw_session_is_chosen(session, edited) && i < chosen->len; i++)
    add_once(outputs, g_array_index(chosen, gint64, i));
  for (guint i = 0, count = outputs->len; cw_session_get_linked(session) && i < count; i++) {
    gint64 pair = cw_pair_of(vehicle, g_array_index(outputs, gint64, i));
    if (pair != CW_NO_INTEGER)
      add_once(outputs, pair);
  }
  return outputs;
}

static gboolean same_section(CwRecord *one, CwRecord *other)
{
  double hz = cw_tune_section_get_frequency_hz(one), q = cw_tune_section_get_q(one);
  return cw_tune_section_get_use(one) == cw_tune_section_get_use(other) &&
         cw_tune_section_get_kind(one) == cw_tune_section_get_kind(other) &&
         cw_tune_section_get_family(one) == cw_tune_section_get_family(other) &&
         cw_tune_section_get_order(one) == cw_tune_section_get_order(other) &&
         fabs(hz - cw_tune_section_get_frequency_hz(other)) <= SAME_FREQUENCY * hz &&
         fabs(cw_tune_section_get_gain_db(one) - cw_tune_section_get_gain_db(other)) <= SAME_GAIN_DB &&
         fabs(q - cw_tune_section_get_q(other)) <= SAME_Q * q;
}

/* The place of the same section in another output; -1 if it has none. */
static int find_same(CwRecord *output, CwRecord *section)
{
  CwList *sections = cw_tune_output_get_sections(output);
  for (guint i = 0; i < cw_list_get_length(sections); i++)
    if (same_section(section, cw_list_get(sections, i)))
      return (int)i;
  return -1;
}

static void set_like(CwRecord *section, CwRecord *model)
{
  cw_tune_section_set_kind(section, cw_tune_section_get_kind(model));
  cw_tune_section_set_family(section, cw_tune_section_get_family(model));
  cw_tune_section_set_order(section, cw_tune_section_get_order(model));
  cw_tune_section_set_bypass(section, cw_tune_section_get_bypass(model));
  cw_tune_section_set_frequency_hz(section, cw_tune_section_get_frequency_hz(model));
  cw_tune_section_set_gain_db(section, cw_tune_section_get_gain_db(model));
  cw_tune_section_set_q(section, cw_tune_section_get_q(model));
}

typedef struct {
  CwRecord *before, *now; /* of one output: at the last commit, and live */
} Edit;

static void follow_number(const Edit *edited, const Edit *other, CwFieldId id)
{
  double moved = cw_record_get_number_at(edited->now, id) - cw_record_get_number_at(edited->before, id);
  const CwField *field = cw_record_get_field_at(other->now, id);
  cw_record_set_number_at(
      other->now, id, CLAMP(cw_record_get_number_at(other->before, id) + moved, field->least, field->most));
}

static void follow_settings(const Edit *edited, const Edit *other)
{
  follow_number(edited, other, CW_TUNE_OUTPUT_FIELD_GAIN_DB);
  follow_number(edited, other, CW_TUNE_OUTPUT_FIELD_DELAY_SAMPLES);
  follow_number(edited, other, CW_TUNE_OUTPUT_FIELD_DELAY_MS);
  if (cw_tune_output_get_polarity(edited->now) != cw_tune_output_get_polarity(edited->before))
    cw_tune_output_set_polarity(other->now, cw_tune_output_get_polarity(other->before) == CW_POLARITY_NORMAL
                                                ? CW_POLARITY_INVERTED
                                                : CW_POLARITY_NORMAL);
  if (cw_tune_output_get_muted(edited->now) != cw_tune_output_get_muted(edited->before))
    cw_tune_output_set_muted(other->now, cw_tune_output_get_muted(edited->now));
}

static void follow_sections(const Edit *edited, const Edit *other)
{
  CwList *before = cw_tune_output_get_sections(edited->before),
         *now = cw_tune_output_get_sections(edited->now);
  CwList *others = cw_tune_output_get_sections(other->now),
         *others_before = cw_tune_output_get_sections(other->before);
  if (cw_list_get_length(before) != cw_list_get_length(now) ||
      cw_list_get_length(others) != cw_list_get_length(others_before))
    return;
  for (guint i = 0; i < cw_list_get_length(now); i++) {
    int same = find_same(other->before, cw_list_get(before, i));
    gboolean changed = !cw_record_equal(cw_list_get(before, i), cw_list_get(now, i));
    if (same >= 0)
      set_like(cw_list_get(others, (guint)same),
               changed ? cw_list_get(now, i) : cw_list_get(others_before, (guint)same));
  }
}

/* The tune output to which a record belongs; NULL for other records. */
static CwRecord *output_of(CwRecord *record)
{
  while (record && G_OBJECT_TYPE(record) != cw_tune_output_get_type())
    record = cw_record_get_parent(record);
  return record;
}

void cw_linking_follow(CwSession *session, CwRecord *record)
{
  CwRecord *output = output_of(record), *vehicle = cw_session_get_vehicle(session);
  CwRecord *before = cw_history_get_present(cw_project_get_history(cw_session_get_project(session)));
  if (!output || !before)
    return;
  gint64 number = cw_tune_output_get_output(output);
  Edit edited = {find_output(before, number), output};
  g_autoptr(GArray) outputs = reached(session, number);
  for (guint i = 1; edited.before && i < outputs->len; i++) {
    Edit other = {find_output(before, g_array_index(outputs, gint64, i)),
                  find_output(vehicle, g_array_index(outputs, gint64, i))};
    if (!other.before || !other.now)
      continue;
    follow_settings(&edited, &other);
    follow_sections(&edited, &other);
  }
}

void cw_linking_add(CwSession *session, CwRecord *section)
{
  CwRecord *output = output_of(section);
  if (!output)
    return;
  g_autoptr(GArray) outputs = reached(session, cw_tune_output_get_output(output));
  for (guint i = 1; i < outputs->len; i++) {
    CwRecord *other = find_output(cw_session_get_vehicle(session), g_array_index(outputs, gint64, i));
    g_autoptr(CwRecord) copy = cw_record_copy(section);
    if (other)
      cw_list_append(cw_port_get_sections(other), copy);
  }
}

static void remove_at(CwRecord *owner, int position)
{
  if (position >= 0)
    cw_list_remove(cw_port_get_sections(owner), (guint)position);
}

/* The outputs that an edit of a record reaches besides it, as live records; the array is the caller's. */
static GPtrArray *others_of(CwSession *session, CwRecord *owner)
{
  GPtrArray *others = g_ptr_array_new();
  CwRecord *output = output_of(owner);
  g_autoptr(GArray) outputs = output ? reached(session, cw_tune_output_get_output(output)) : NULL;
  for (guint i = 1; outputs && i < outputs->len; i++) {
    CwRecord *other = find_output(cw_session_get_vehicle(session), g_array_index(outputs, gint64, i));
    if (other)
      g_ptr_array_add(others, other);
  }
  return others;
}

void cw_linking_remove(CwSession *session, CwRecord *section)
{
  CwRecord *owner = cw_record_get_parent(section);
  g_autoptr(GPtrArray) others = others_of(session, owner);
  guint position;
  for (guint i = 0; i < others->len; i++)
    remove_at(g_ptr_array_index(others, i), find_same(g_ptr_array_index(others, i), section));
  if (cw_list_find(cw_port_get_sections(owner), section, &position))
    remove_at(owner, (int)position);
}

static void set_bypass(CwRecord *owner, gboolean bypass)
{
  CwList *sections = cw_port_get_sections(owner);
  for (guint s = 0; s < cw_list_get_length(sections); s++)
    if (cw_tune_section_get_use(cw_list_get(sections, s)) != CW_USE_CROSSOVER)
      cw_tune_section_set_bypass(cw_list_get(sections, s), bypass);
}

void cw_linking_set_bypass(CwSession *session, CwRecord *owner, gboolean bypass)
{
  g_autoptr(GPtrArray) others = others_of(session, owner);
  set_bypass(owner, bypass);
  for (guint i = 0; i < others->len; i++)
    set_bypass(g_ptr_array_index(others, i), bypass);
}

void cw_linking_copy_filters(CwSession *session, gint64 from, gint64 to)
{
  CwRecord *vehicle = cw_session_get_vehicle(session), *model = find_output(vehicle, from),
           *output = find_output(vehicle, to);
  if (!model || !output)
    return;
  CwList *sections = cw_port_get_sections(model), *others = cw_port_get_sections(output);
  cw_list_clear(others);
  for (guint i = 0; i < cw_list_get_length(sections); i++) {
    g_autoptr(CwRecord) copy = cw_record_copy(cw_list_get(sections, i));
    cw_list_append(others, copy);
  }
}
