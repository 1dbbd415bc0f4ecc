/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One value of a record as a row: its label, the value with its unit, and what is wrong with what was typed.
 */
#include "window/state/length.h"
#include "window/state/linked_outputs.h"
#include "window/state/settings.h"
#include "window/state/value_text.h"
#include "window/widgets/page.h"
#include "window/widgets/record_rows.h"

#include <glib/gi18n-lib.h>
#include <math.h>

/* What the record is called in headings and in the names of edits; the caller's. */
char *cw_record_say_title(CwRecord *record)
{
  const CwField *identity = cw_record_get_identity(record);
  g_autofree char *id = identity ? cw_record_say_identity(record) : NULL;
  const CwField *name_field = cw_record_find_field(record, "name");
  const char *name =
      name_field ? cw_record_get_text_at(record, cw_record_field_id(record, name_field)) : NULL;
  if (id && name && *name && !g_str_equal(id, name))
    return g_strdup_printf("%s  %s", id, name);
  if (id && identity->type == CW_FIELD_INTEGER)
    return g_strdup_printf("%s %s", _(identity->label), id);
  if (id && *id)
    return g_steal_pointer(&id);
  if (name && *name)
    return g_strdup(name);
  CwRecord *parent = cw_record_get_parent(record);
  guint position;
  if (CW_IS_TUNE_SECTION(record) && parent && cw_list_find(cw_port_get_sections(parent), record, &position))
    return g_strdup_printf(_("Filter %u"), position + 1);
  return g_strdup(parent ? _("the sheet's part") : _("the sheet"));
}

typedef struct {
  CwSession *session;
  CwRecord *record;
  const CwField *field;
  CwFieldId id;
  char *name; /* of a named number, or NULL */
  GtkWidget *input;
  GtkWidget *unit; /* NULL where the field has none */
  GtkWidget *reason;
  gboolean showing;
} ValueRow;

static void row_free(gpointer data)
{
  ValueRow *row = data;
  g_object_unref(row->record);
  g_object_unref(row->session);
  g_free(row->name);
  g_free(row);
}

/* Keeps an edit of a field as one step, under its name. */
void cw_record_commit_field(CwSession *session, CwRecord *record, const CwField *field)
{
  g_autofree char *title = cw_record_say_title(record);
  g_autofree char *what = g_strdup_printf(_("Change %s: %s"), title, _(field->label));
  cw_linking_follow(session, record);
  cw_session_commit(session, what);
}

static void mark(ValueRow *row, const GError *error)
{
  gtk_widget_set_visible(row->reason, error != NULL);
  gtk_label_set_text(GTK_LABEL(row->reason), error ? error->message : "");
  if (error)
    gtk_widget_add_css_class(row->input, "error");
  else
    gtk_widget_remove_css_class(row->input, "error");
  gtk_accessible_update_state(GTK_ACCESSIBLE(row->input), GTK_ACCESSIBLE_STATE_INVALID,
                              error ? GTK_ACCESSIBLE_INVALID_TRUE : GTK_ACCESSIBLE_INVALID_FALSE, -1);
  gtk_accessible_update_property(GTK_ACCESSIBLE(row->input), GTK_ACCESSIBLE_PROPERTY_DESCRIPTION,
                                 error                 ? error->message
                                 : row->field->meaning ? _(row->field->meaning)
                                                       : "",
                                 -1);
}

static char *text_of(ValueRow *row)
{
  if (row->name)
    return cw_field_number_to_text(
        row->field, cw_numbers_named(cw_record_get_numbers_at(row->record, row->id), row->name));
  return cw_value_to_text(row->record, row->field);
}

/* The numbers by name with one of them set, or left out for NaN. */
static void set_named(CwRecord *record, const CwField *field, const char *name, double value)
{
  CwFieldId id = cw_record_field_id(record, field);
  const CwNumbers *old = cw_record_get_numbers_at(record, id);
  g_autoptr(GPtrArray) names = g_ptr_array_new();
  g_autoptr(GArray) values = g_array_new(FALSE, FALSE, sizeof(double));
  for (guint i = 0; old && i < old->n_rows; i++)
    if (!g_str_equal(old->names[i], name)) {
      g_ptr_array_add(names, old->names[i]);
      g_array_append_val(values, old->values[i]);
    }
  if (isfinite(value)) {
    g_ptr_array_add(names, (char *)name);
    g_array_append_val(values, value);
  }
  cw_record_take_numbers_at(record, id,
                            cw_numbers_new_named(names->len, (const char *const *)names->pdata,
                                                 (const double *)(void *)values->data));
}

static gboolean set_from_text(ValueRow *row, const char *text, GError **error)
{
  if (!row->name)
    return cw_value_from_text(row->record, row->field, text, error);
  CwField number = *row->field;
  double value;
  number.type = CW_FIELD_NUMBER;
  number.flags |= CW_FIELD_NULLABLE;
  if (!cw_number_from_text(&number, text, &value, error))
    return FALSE;
  set_named(row->record, row->field, row->name, value);
  return TRUE;
}

static char *typed_text(ValueRow *row)
{
  if (!GTK_IS_TEXT_VIEW(row->input))
    return g_strdup(gtk_editable_get_text(GTK_EDITABLE(row->input)));
  GtkTextBuffer *buffer = gtk_text_view_get_buffer(GTK_TEXT_VIEW(row->input));
  GtkTextIter start, end;
  gtk_text_buffer_get_bounds(buffer, &start, &end);
  return gtk_text_buffer_get_text(buffer, &start, &end, FALSE);
}

/* Takes what was typed, when it is something else than what stands in the record. */
static void enter(ValueRow *row)
{
  g_autofree char *typed = typed_text(row), *standing = text_of(row);
  g_autoptr(GError) error = NULL;
  if (row->showing || g_str_equal(g_strstrip(typed), standing)) {
    mark(row, NULL);
    return;
  }
  gboolean taken = set_from_text(row, typed, &error);
  mark(row, error);
  if (taken)
    cw_record_commit_field(row->session, row->record, row->field);
}

static void show_text(ValueRow *row, const char *text)
{
  if (GTK_IS_TEXT_VIEW(row->input))
    gtk_text_buffer_set_text(gtk_text_view_get_buffer(GTK_TEXT_VIEW(row->input)), text, -1);
  else
    gtk_editable_set_text(GTK_EDITABLE(row->input), text);
}

/* Shows what stands in the record, whoever changed it. */
static void show_value(ValueRow *row)
{
  row->showing = TRUE;
  if (GTK_IS_DROP_DOWN(row->input)) {
    int choice = cw_record_get_choice_at(row->record, row->id);
    guint first = row->field->flags & CW_FIELD_NULLABLE ? 1 : 0;
    gtk_drop_down_set_selected(GTK_DROP_DOWN(row->input), choice < 0 ? 0 : (guint)choice + first);
  } else if (GTK_IS_CHECK_BUTTON(row->input)) {
    gtk_check_button_set_active(GTK_CHECK_BUTTON(row->input), cw_record_get_boolean_at(row->record, row->id));
  } else {
    g_autofree char *text = text_of(row), *typed = typed_text(row);
    if (row->unit)
      gtk_label_set_text(GTK_LABEL(row->unit), cw_length_unit_of(row->field));
    if (!g_str_equal(text, typed))
      show_text(row, text);
    mark(row, NULL);
  }
  row->showing = FALSE;
}

static void on_selected(ValueRow *row)
{
  guint first = row->field->flags & CW_FIELD_NULLABLE ? 1 : 0;
  int choice = (int)gtk_drop_down_get_selected(GTK_DROP_DOWN(row->input)) - (int)first;
  if (row->showing || choice == cw_record_get_choice_at(row->record, row->id))
    return;
  cw_record_set_choice_at(row->record, row->id, choice);
  cw_record_commit_field(row->session, row->record, row->field);
}

static void on_toggled(ValueRow *row)
{
  gboolean active = gtk_check_button_get_active(GTK_CHECK_BUTTON(row->input));
  if (row->showing || active == cw_record_get_boolean_at(row->record, row->id))
    return;
  cw_record_set_boolean_at(row->record, row->id, active);
  cw_record_commit_field(row->session, row->record, row->field);
}

static void enter_when_left(ValueRow *row, GtkWidget *focus)
{
  GtkEventController *controller = gtk_event_controller_focus_new();
  g_signal_connect_swapped(controller, "leave", G_CALLBACK(enter), row);
  gtk_widget_add_controller(focus, controller);
}

static GtkWidget *new_drop_down(ValueRow *row)
{
  g_autoptr(GtkStringList) words = gtk_string_list_new(NULL);
  if (row->field->flags & CW_FIELD_NULLABLE)
    gtk_string_list_append(words, _("Not known"));
  for (const CwChoice *choice = row->field->choices; choice->word; choice++)
    gtk_string_list_append(words, _(choice->label));
  row->input = gtk_drop_down_new(G_LIST_MODEL(g_steal_pointer(&words)), NULL);
  g_signal_connect_swapped(row->input, "notify::selected", G_CALLBACK(on_selected), row);
  return row->input;
}

static GtkWidget *new_table(ValueRow *row)
{
  GtkWidget *scrolled = gtk_scrolled_window_new();
  row->input = gtk_text_view_new();
  gtk_text_view_set_monospace(GTK_TEXT_VIEW(row->input), TRUE);
  cw_read_from_left(row->input);
  gtk_text_view_set_accepts_tab(GTK_TEXT_VIEW(row->input), FALSE);
  gtk_scrolled_window_set_min_content_height(GTK_SCROLLED_WINDOW(scrolled), 96);
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(scrolled), row->input);
  gtk_scrolled_window_set_has_frame(GTK_SCROLLED_WINDOW(scrolled), TRUE);
  enter_when_left(row, row->input);
  return scrolled;
}

/* The unit stands in the entry, at its end. */
static GtkWidget *new_entry(ValueRow *row)
{
  GtkWidget *overlay = gtk_overlay_new();
  row->input = gtk_entry_new();
  gtk_overlay_set_child(GTK_OVERLAY(overlay), row->input);
  if (row->field->type != CW_FIELD_TEXT && row->field->type != CW_FIELD_TEXTS) {
    cw_read_from_left(overlay);
    cw_read_from_left(row->input);
  }
  if (row->field->unit) {
    GtkWidget *unit = gtk_label_new(cw_length_unit_of(row->field));
    row->unit = unit;
    gtk_widget_set_halign(unit, GTK_ALIGN_END);
    gtk_widget_set_can_target(unit, FALSE);
    cw_read_from_left(unit);
    gtk_widget_add_css_class(unit, "dim-label");
    gtk_widget_add_css_class(unit, "unit");
    gtk_widget_add_css_class(row->input, "with-unit");
    gtk_overlay_add_overlay(GTK_OVERLAY(overlay), unit);
  }
  g_signal_connect_swapped(row->input, "activate", G_CALLBACK(enter), row);
  enter_when_left(row, row->input);
  return overlay;
}

static GtkWidget *new_input(ValueRow *row)
{
  switch (row->field->type) {
  case CW_FIELD_CHOICE:
    return new_drop_down(row);
  case CW_FIELD_BOOLEAN:
    row->input = gtk_check_button_new();
    g_signal_connect_swapped(row->input, "toggled", G_CALLBACK(on_toggled), row);
    return row->input;
  case CW_FIELD_ROWS:
  case CW_FIELD_CURVE:
    return new_table(row);
  default:
    return new_entry(row);
  }
}

/* The input with its reason below, without a label; data belong to the box that is returned. */
static GtkWidget *new_input_box(CwSession *session, CwRecord *record, const CwField *field, const char *name,
                                const char *label)
{
  ValueRow *row = g_new0(ValueRow, 1);
  *row = (ValueRow){.session = g_object_ref(session),
                    .record = g_object_ref(record),
                    .field = field,
                    .id = cw_record_field_id(record, field),
                    .name = g_strdup(name)};
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 2), *input = new_input(row);
  row->reason = cw_text(NULL);
  gtk_widget_add_css_class(row->reason, "reason");
  gtk_widget_set_visible(row->reason, FALSE);
  gtk_box_append(GTK_BOX(box), input);
  gtk_box_append(GTK_BOX(box), row->reason);
  gtk_widget_set_tooltip_text(box, field->meaning ? _(field->meaning) : NULL);
  gtk_accessible_update_property(GTK_ACCESSIBLE(row->input), GTK_ACCESSIBLE_PROPERTY_LABEL, label,
                                 GTK_ACCESSIBLE_PROPERTY_DESCRIPTION, field->meaning ? _(field->meaning) : "",
                                 -1);
  g_object_set_data_full(G_OBJECT(box), "row", row, row_free);
  g_autofree char *signal = g_strdup_printf("notify::%s", field->key);
  g_strdelimit(signal, "_", '-');
  cw_connect_while_alive(record, signal, G_CALLBACK(show_value), row, box);
  if (field->unit && cw_settings_get())
    cw_connect_while_alive(cw_settings_get(), "changed::inches", G_CALLBACK(show_value), row, box);
  show_value(row);
  return box;
}

static GtkWidget *new_row(CwSession *session, CwRecord *record, const CwField *field, const char *name)
{
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 12);
  g_autofree char *label_text =
      name ? g_strdup_printf("%s: %s", _(field->label), name) : g_strdup(_(field->label));
  GtkWidget *label = cw_text(label_text), *input = new_input_box(session, record, field, name, label_text);
  gtk_widget_set_size_request(label, 168, -1);
  gtk_label_set_width_chars(GTK_LABEL(label), 22);
  gtk_label_set_max_width_chars(GTK_LABEL(label), 22);
  gtk_widget_set_valign(label, GTK_ALIGN_START);
  gtk_widget_add_css_class(label, "row-label");
  gtk_widget_set_hexpand(input, TRUE);
  gtk_box_append(GTK_BOX(box), label);
  gtk_box_append(GTK_BOX(box), input);
  return box;
}

/* The input of one value alone, for tables with a heading of their own; entries are width_chars wide. */
GtkWidget *cw_value_input_new(CwSession *session, CwRecord *record, CwFieldId id, int width_chars)
{
  const CwField *field = cw_record_get_field_at(record, id);
  g_autofree char *title = cw_record_say_title(record),
                  *label = g_strdup_printf("%s %s", title, _(field->label));
  GtkWidget *box = new_input_box(session, record, field, NULL, label);
  ValueRow *row = g_object_get_data(G_OBJECT(box), "row");
  if (GTK_IS_EDITABLE(row->input)) {
    gtk_editable_set_width_chars(GTK_EDITABLE(row->input), width_chars);
    gtk_editable_set_max_width_chars(GTK_EDITABLE(row->input), width_chars);
  }
  return box;
}

/* One entry a seat, and one for every other name that is there. */
static GtkWidget *new_named_rows(CwSession *session, CwRecord *record, const CwField *field)
{
  GtkWidget *rows = gtk_box_new(GTK_ORIENTATION_VERTICAL, 6);
  CwRecord *vehicle = cw_session_get_vehicle(session);
  const CwNumbers *numbers = cw_record_get_numbers_at(record, cw_record_field_id(record, field));
  const char *const *seats = vehicle ? cw_vehicle_get_seats(vehicle) : NULL;
  for (guint i = 0; seats && seats[i]; i++)
    gtk_box_append(GTK_BOX(rows), new_row(session, record, field, seats[i]));
  for (guint i = 0; numbers && i < numbers->n_rows; i++)
    if (!seats || !g_strv_contains(seats, numbers->names[i]))
      gtk_box_append(GTK_BOX(rows), new_row(session, record, field, numbers->names[i]));
  return rows;
}

/* A row for one value that is not a record itself. */
GtkWidget *cw_value_row_new(CwSession *session, CwRecord *record, const CwField *field)
{
  return field->type == CW_FIELD_NAMED ? new_named_rows(session, record, field)
                                       : new_row(session, record, field, NULL);
}
