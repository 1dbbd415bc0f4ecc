/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/measuring/take_board.h"

#include "job/takes/positions.h"
#include "window/state/words.h"
#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>
#include <math.h>

struct _CwTakeBoard {
  GtkBox parent_instance;
  CwSession *session;
  CwPurpose purpose;
  char *position;
  char *shape; /* what the grid was built for; another needs another grid */
  GtkWidget *grid;
  GPtrArray *cells; /* GtkButton, with "output" and "position" */
};

G_DEFINE_FINAL_TYPE(CwTakeBoard, cw_take_board, GTK_TYPE_BOX)

static guint chosen;

static void board_dispose(GObject *object)
{
  CwTakeBoard *board = CW_TAKE_BOARD(object);
  g_clear_object(&board->session);
  g_clear_pointer(&board->position, g_free);
  g_clear_pointer(&board->shape, g_free);
  g_clear_pointer(&board->cells, g_ptr_array_unref);
  G_OBJECT_CLASS(cw_take_board_parent_class)->dispose(object);
}

static void cw_take_board_class_init(CwTakeBoardClass *klass)
{
  G_OBJECT_CLASS(klass)->dispose = board_dispose;
  chosen = g_signal_new("chosen", G_TYPE_FROM_CLASS(klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL,
                        G_TYPE_NONE, 0);
}

static void cw_take_board_init(CwTakeBoard *board)
{
  gtk_orientable_set_orientation(GTK_ORIENTABLE(board), GTK_ORIENTATION_VERTICAL);
  board->cells = g_ptr_array_new();
}

GtkWidget *cw_take_board_new(CwSession *session, CwPurpose purpose)
{
  CwTakeBoard *board = g_object_new(CW_TYPE_TAKE_BOARD, NULL);
  board->session = g_object_ref(session);
  board->purpose = purpose;
  return GTK_WIDGET(board);
}

const char *cw_take_board_get_position(CwTakeBoard *board)
{
  return board->position;
}

void cw_take_board_set_position(CwTakeBoard *board, const char *position)
{
  g_free(board->position);
  board->position = g_strdup(position);
}

CwRecord *cw_take_board_find_take(CwTakeBoard *board, gint64 output, const char *position)
{
  CwRecord *vehicle = cw_session_get_vehicle(board->session);
  CwRecord *accepted = cw_job_find_take(vehicle, output, position, board->purpose);
  CwList *takes = cw_vehicle_get_takes(vehicle);
  for (guint i = cw_list_get_length(takes); !accepted && i-- > 0;) {
    CwRecord *take = cw_list_get(takes, i);
    if (cw_take_get_output(take) == output && cw_take_get_purpose(take) == board->purpose &&
        g_strcmp0(cw_take_get_position(take), position) == 0)
      return take;
  }
  return accepted;
}

gboolean cw_take_board_find_next(CwTakeBoard *board, gint64 *output, char **position)
{
  CwRecord *vehicle = cw_session_get_vehicle(board->session);
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  g_auto(GStrv) positions = cw_job_positions(vehicle, cw_session_get_seat(board->session));
  for (guint p = 0; positions[p]; p++)
    for (guint i = 0; i < cw_list_get_length(speakers); i++) {
      *output = cw_speaker_get_output(cw_list_get(speakers, i));
      if (!cw_job_find_take(vehicle, *output, positions[p], board->purpose)) {
        *position = g_strdup(positions[p]);
        return TRUE;
      }
    }
  return FALSE;
}

static void on_cell(GtkButton *cell, CwTakeBoard *board)
{
  cw_take_board_set_position(board, g_object_get_data(G_OBJECT(cell), "position"));
  cw_session_set_output(board->session, *(gint64 *)g_object_get_data(G_OBJECT(cell), "output"));
  cw_take_board_refresh(board);
  g_signal_emit(board, chosen, 0);
}

static GtkWidget *new_cell(CwTakeBoard *board, gint64 output, const char *position)
{
  GtkWidget *cell = gtk_button_new_with_label("");
  g_object_set_data_full(G_OBJECT(cell), "position", g_strdup(position), g_free);
  g_object_set_data_full(G_OBJECT(cell), "output", g_memdup2(&output, sizeof output), g_free);
  gtk_widget_set_size_request(cell, 58, -1);
  gtk_widget_add_css_class(cell, "cell");
  gtk_widget_add_css_class(cell, "numeric");
  g_signal_connect(cell, "clicked", G_CALLBACK(on_cell), board);
  g_ptr_array_add(board->cells, cell);
  return cell;
}

static GtkWidget *new_row_head(CwRecord *speaker)
{
  g_autofree char *name = cw_say_speaker(speaker);
  g_autofree char *text = g_strdup_printf("%d  %s", (int)cw_speaker_get_output(speaker), name);
  GtkWidget *label = gtk_label_new(text);
  gtk_label_set_xalign(GTK_LABEL(label), 0);
  gtk_label_set_ellipsize(GTK_LABEL(label), PANGO_ELLIPSIZE_END);
  gtk_label_set_width_chars(GTK_LABEL(label), 18);
  gtk_label_set_max_width_chars(GTK_LABEL(label), 22);
  return label;
}

static char *shape_of(CwRecord *vehicle, const char *seat)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  GString *shape = g_string_new(NULL);
  g_string_append_printf(shape, "%s %d", seat, (int)cw_vehicle_get_positions_per_seat(vehicle));
  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    g_autofree char *name = cw_say_speaker(cw_list_get(speakers, i));
    g_string_append_printf(shape, " %d %s", (int)cw_speaker_get_output(cw_list_get(speakers, i)), name);
  }
  return g_string_free(shape, FALSE);
}

static void build(CwTakeBoard *board, CwRecord *vehicle, char **positions)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  if (board->grid)
    gtk_box_remove(GTK_BOX(board), board->grid);
  g_ptr_array_set_size(board->cells, 0);
  board->grid = gtk_grid_new();
  gtk_grid_set_row_spacing(GTK_GRID(board->grid), 3);
  gtk_grid_set_column_spacing(GTK_GRID(board->grid), 3);
  for (int p = 0; positions[p]; p++)
    gtk_grid_attach(GTK_GRID(board->grid), cw_dim_text(positions[p]), p + 1, 0, 1, 1);
  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    CwRecord *speaker = cw_list_get(speakers, i);
    gtk_grid_attach(GTK_GRID(board->grid), new_row_head(speaker), 0, (int)i + 1, 1, 1);
    for (int p = 0; positions[p]; p++)
      gtk_grid_attach(GTK_GRID(board->grid), new_cell(board, cw_speaker_get_output(speaker), positions[p]),
                      p + 1, (int)i + 1, 1, 1);
  }
  gtk_box_append(GTK_BOX(board), board->grid);
}

static void set_class(GtkWidget *widget, const char *name, gboolean on)
{
  if (on)
    gtk_widget_add_css_class(widget, name);
  else
    gtk_widget_remove_css_class(widget, name);
}

static void show_cell(CwTakeBoard *board, GtkWidget *cell)
{
  gint64 output = *(gint64 *)g_object_get_data(G_OBJECT(cell), "output");
  const char *position = g_object_get_data(G_OBJECT(cell), "position");
  CwRecord *take = cw_take_board_find_take(board, output, position);
  g_autofree char *name = cw_say_output(cw_session_get_vehicle(board->session), output), *text = NULL,
                  *words = NULL;
  gboolean accepted = take && cw_take_get_accepted(take);
  double level = take ? cw_take_get_level_db_spl(take) : (double)NAN;
  if (accepted && isfinite(level)) {
    text = g_strdup_printf("✓ %.0f", level);
    words = g_strdup_printf(_("%s, %s: accepted, %.0f dB"), name, position, level);
  } else if (accepted) {
    text = g_strdup("✓");
    words = g_strdup_printf(_("%s, %s: accepted"), name, position);
  } else if (take) {
    const char *const *reasons = cw_take_get_reasons(take);
    text = g_strdup("✗");
    words =
        g_strdup_printf(_("%s, %s: refused: %s"), name, position, reasons && reasons[0] ? reasons[0] : "");
  } else {
    text = g_strdup("·");
    words = g_strdup_printf(_("%s, %s: no take yet"), name, position);
  }
  gtk_button_set_label(GTK_BUTTON(cell), text);
  gtk_widget_set_tooltip_text(cell, words);
  cw_set_name(cell, words);
  set_class(cell, "accepted", accepted);
  set_class(cell, "refused", take && !accepted);
  set_class(cell, "chosen",
            output == cw_session_get_output(board->session) && g_strcmp0(position, board->position) == 0);
}

void cw_take_board_refresh(CwTakeBoard *board)
{
  CwRecord *vehicle = cw_session_get_vehicle(board->session);
  if (!vehicle)
    return;
  const char *seat = cw_session_get_seat(board->session);
  g_auto(GStrv) positions = cw_job_positions(vehicle, seat);
  g_autofree char *shape = shape_of(vehicle, seat);
  if (!g_strv_contains((const char *const *)positions, board->position ? board->position : ""))
    cw_take_board_set_position(board, positions[0]);
  if (g_strcmp0(shape, board->shape) != 0) {
    g_free(board->shape);
    board->shape = g_steal_pointer(&shape);
    build(board, vehicle, positions);
  }
  for (guint i = 0; i < board->cells->len; i++)
    show_cell(board, g_ptr_array_index(board->cells, i));
}
