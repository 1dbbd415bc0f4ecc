/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "vehicle/project/history.h"

/* Edits of one thing further apart than this are steps of their own. */
#define MERGE_WITHIN_US (2 * G_USEC_PER_SEC)

typedef struct {
  char *name;
  char *merge_key;
  CwRecord *after; /* snapshot */
} Step;

struct _CwHistory {
  GObject parent_instance;
  CwRecord *record;
  CwRecord *before_all; /* snapshot before the first step */
  GPtrArray *steps;
  guint n_done; /* steps that stand; those behind can be redone */
  gboolean sealed;
  gint64 last_us;
};

G_DEFINE_FINAL_TYPE(CwHistory, cw_history, G_TYPE_OBJECT)

enum { PROP_CAN_UNDO = 1, PROP_CAN_REDO, PROP_UNDO_NAME, PROP_REDO_NAME, N_PROPS };
static GParamSpec *properties[N_PROPS];

static void step_free(gpointer data)
{
  Step *step = data;
  g_free(step->name);
  g_free(step->merge_key);
  g_object_unref(step->after);
  g_free(step);
}

static Step *step_at(CwHistory *history, guint index)
{
  return g_ptr_array_index(history->steps, index);
}

static void history_finalize(GObject *object)
{
  CwHistory *history = CW_HISTORY(object);
  g_ptr_array_unref(history->steps);
  g_clear_object(&history->before_all);
  g_clear_object(&history->record);
  G_OBJECT_CLASS(cw_history_parent_class)->finalize(object);
}

static void history_get_property(GObject *object, guint id, GValue *value, GParamSpec *pspec)
{
  CwHistory *history = CW_HISTORY(object);
  switch (id) {
  case PROP_CAN_UNDO:
    g_value_set_boolean(value, cw_history_can_undo(history));
    break;
  case PROP_CAN_REDO:
    g_value_set_boolean(value, cw_history_can_redo(history));
    break;
  case PROP_UNDO_NAME:
    g_value_set_string(value, cw_history_get_undo_name(history));
    break;
  case PROP_REDO_NAME:
    g_value_set_string(value, cw_history_get_redo_name(history));
    break;
  default:
    G_OBJECT_WARN_INVALID_PROPERTY_ID(object, id, pspec);
  }
}

static void cw_history_class_init(CwHistoryClass *klass)
{
  GObjectClass *object_class = G_OBJECT_CLASS(klass);
  GParamFlags flags = G_PARAM_READABLE | G_PARAM_STATIC_STRINGS;
  object_class->finalize = history_finalize;
  object_class->get_property = history_get_property;
  properties[PROP_CAN_UNDO] = g_param_spec_boolean("can-undo", NULL, NULL, FALSE, flags);
  properties[PROP_CAN_REDO] = g_param_spec_boolean("can-redo", NULL, NULL, FALSE, flags);
  properties[PROP_UNDO_NAME] = g_param_spec_string("undo-name", NULL, NULL, NULL, flags);
  properties[PROP_REDO_NAME] = g_param_spec_string("redo-name", NULL, NULL, NULL, flags);
  g_object_class_install_properties(object_class, N_PROPS, properties);
}

static void cw_history_init(CwHistory *history)
{
  history->steps = g_ptr_array_new_with_free_func(step_free);
}

static void notify_all(CwHistory *history)
{
  for (guint i = 1; i < N_PROPS; i++)
    g_object_notify_by_pspec(G_OBJECT(history), properties[i]);
}

CwHistory *cw_history_new(CwRecord *record)
{
  CwHistory *history = g_object_new(CW_TYPE_HISTORY, NULL);
  history->record = g_object_ref(record);
  history->before_all = cw_record_snapshot(record);
  return history;
}

static CwRecord *state_after(CwHistory *history, guint n_steps)
{
  return n_steps ? step_at(history, n_steps - 1)->after : history->before_all;
}

CwRecord *cw_history_get_present(CwHistory *history)
{
  return state_after(history, history->n_done);
}

/* TRUE if an edit belongs to the last step: the same thing, soon after, and nothing undone or sealed in
 * between. */
static gboolean merges(CwHistory *history, const char *merge_key)
{
  if (!merge_key || history->sealed || !history->n_done || history->n_done < history->steps->len)
    return FALSE;
  return g_strcmp0(step_at(history, history->n_done - 1)->merge_key, merge_key) == 0 &&
         g_get_monotonic_time() - history->last_us <= MERGE_WITHIN_US;
}

gboolean cw_history_record(CwHistory *history, const char *name, const char *merge_key)
{
  g_autoptr(CwRecord) now = cw_record_snapshot(history->record);
  if (cw_record_equal(now, cw_history_get_present(history)))
    return FALSE;
  if (merges(history, merge_key)) {
    g_set_object(&step_at(history, history->n_done - 1)->after, now);
  } else {
    g_ptr_array_set_size(history->steps, (int)history->n_done);
    Step *step = g_new0(Step, 1);
    step->name = g_strdup(name);
    step->merge_key = g_strdup(merge_key);
    step->after = g_object_ref(now);
    g_ptr_array_add(history->steps, step);
    history->n_done++;
  }
  if (history->n_done > CW_HISTORY_MOST_STEPS) {
    g_set_object(&history->before_all, step_at(history, 0)->after);
    g_ptr_array_remove_index(history->steps, 0);
    history->n_done--;
  }
  history->sealed = FALSE;
  history->last_us = g_get_monotonic_time();
  notify_all(history);
  return TRUE;
}

void cw_history_seal(CwHistory *history)
{
  history->sealed = TRUE;
}

static void go_to(CwHistory *history, guint n_done)
{
  history->n_done = n_done;
  history->sealed = TRUE;
  cw_record_assign(history->record, cw_history_get_present(history));
  notify_all(history);
}

gboolean cw_history_undo(CwHistory *history)
{
  if (!cw_history_can_undo(history))
    return FALSE;
  go_to(history, history->n_done - 1);
  return TRUE;
}

gboolean cw_history_redo(CwHistory *history)
{
  if (!cw_history_can_redo(history))
    return FALSE;
  go_to(history, history->n_done + 1);
  return TRUE;
}

gboolean cw_history_can_undo(CwHistory *history)
{
  return history->n_done > 0;
}

gboolean cw_history_can_redo(CwHistory *history)
{
  return history->n_done < history->steps->len;
}

const char *cw_history_get_undo_name(CwHistory *history)
{
  return cw_history_can_undo(history) ? step_at(history, history->n_done - 1)->name : NULL;
}

const char *cw_history_get_redo_name(CwHistory *history)
{
  return cw_history_can_redo(history) ? step_at(history, history->n_done)->name : NULL;
}
