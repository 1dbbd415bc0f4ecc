/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "handover/paper.h"

#include <glib/gstdio.h>

#include <math.h>
#include <stdio.h>
#include <string.h>

typedef struct {
  guint rows, paragraphs, calls;
} Content;

static void compose(CwPaper *paper, gpointer data)
{
  Content *content = data;
  static const CwPaperColumn columns[] = {{"Name", 3, FALSE}, {"Value", 1, TRUE}};
  g_autofree const char **cells = g_new0(const char *, 2 * content->rows + 1);
  g_autoptr(CwPlot) plot = cw_plot_new();
  const double x[] = {20, 200, 2000, 20000}, y[] = {-3, 0, NAN, -6};

  content->calls++;
  cw_paper_title(paper, "Alder Tourer");
  cw_paper_heading(paper, "Filters & <levels>");
  for (guint i = 0; i < content->paragraphs; i++)
    cw_paper_say(paper, cw_paper_text,
                 "Paragraph %u: what is written here is long enough to need more lines than one, "
                 "and stands on a page of its own in part.",
                 i);
  cw_paper_small(paper, "Small print");
  cw_paper_item(paper, "!", "An item", "and more of it");
  cw_paper_item(paper, "–", "An item alone", NULL);
  for (guint i = 0; i < 2 * content->rows; i++)
    cells[i] = i % 2 ? "-3.5 dB" : "Lautsprecher, größer";
  cw_paper_table(paper, columns, G_N_ELEMENTS(columns), cells, content->rows);
  cw_plot_set_frequency_axis(plot, 20, 20000);
  cw_plot_set_level_axis(plot, "Level", "dB", -30, 10);
  cw_plot_add(plot, "left", 4, x, y);
  cw_paper_plot(paper, plot, 60);
}

static const CwPaperInfo info = {.title = "Report",
                                 .subject = "J-0147",
                                 .creator = "Cabinwright",
                                 .foot = "Alder Tourer",
                                 .made_unix = 1700000000};

static GBytes *make(guint paragraphs, guint rows, guint *calls)
{
  Content content = {.rows = rows, .paragraphs = paragraphs};
  g_autoptr(GError) error = NULL;
  GBytes *bytes = cw_paper_make(&info, compose, &content, &error);
  g_assert_no_error(error);
  *calls = content.calls;
  return bytes;
}

/* What poppler says of the pages, their text or their structure: another reader's word. */
static char *ask(const char *what, GBytes *pdf)
{
  g_autoptr(GError) error = NULL;
  g_autofree char *path = NULL, *said = NULL;
  int file = g_file_open_tmp("paper-XXXXXX.pdf", &path, &error), status;
  g_assert_no_error(error);
  g_close(file, NULL);
  g_file_set_contents(path, g_bytes_get_data(pdf, NULL), (gssize)g_bytes_get_size(pdf), &error);
  g_assert_no_error(error);
  const char *const text[] = {"pdftotext", path, "-", NULL},
                    *const structure[] = {"pdfinfo", "-struct", path, NULL},
                    *const pages[] = {"pdfinfo", path, NULL};
  const char *const *arguments = g_str_equal(what, "text")        ? text
                                 : g_str_equal(what, "structure") ? structure
                                                                  : pages;
  g_assert_true(g_spawn_sync(NULL, (char **)arguments, NULL, G_SPAWN_SEARCH_PATH, NULL, NULL, &said, NULL,
                             &status, &error));
  g_assert_true(g_spawn_check_wait_status(status, &error));
  remove(path);
  return g_steal_pointer(&said);
}

/* One page, or as many as the text and the rows need; composed twice, for the pages to be counted. */
static void test_pages(void)
{
  static const struct {
    guint paragraphs, rows, least_pages, most_pages;
  } cases[] = {{1, 3, 1, 1}, {60, 0, 2, 4}, {1, 200, 3, 8}};
  static const char *const tagged[] = {"H1 (block)", "H2 (block)", "P (block)", "Figure"};
  for (size_t k = 0; k < G_N_ELEMENTS(cases); k++) {
    guint calls;
    g_autoptr(GBytes) pdf = make(cases[k].paragraphs, cases[k].rows, &calls);
    g_assert_cmpuint(calls, ==, 2);
    g_assert_cmpint(memcmp(g_bytes_get_data(pdf, NULL), "%PDF-", 5), ==, 0);
    g_autofree char *said = ask("pages", pdf), *text = ask("text", pdf);

    guint pages = (guint)g_ascii_strtoull(g_strchug(strstr(said, "Pages:") + 6), NULL, 10);
    g_assert_cmpuint(pages, >=, cases[k].least_pages);
    g_assert_cmpuint(pages, <=, cases[k].most_pages);
    g_autofree char *tags = ask("structure", pdf);
    for (size_t t = 0; t < G_N_ELEMENTS(tagged); t++)
      g_assert_nonnull(strstr(tags, tagged[t]));
    g_assert_nonnull(strstr(said, "Title:           Report"));
    g_autofree char *last = g_strdup_printf("%u/ %u", pages, pages); /* as poppler joins "1 / 1" */
    g_assert_nonnull(strstr(text, last));
    g_assert_nonnull(strstr(text, "Filters & <levels>"));
    g_assert_nonnull(strstr(text, "Alder Tourer"));
    if (cases[k].rows)
      g_assert_nonnull(strstr(text, "größer"));
  }
}

/* The same content and time make the same bytes. */
static void test_same(void)
{
  guint calls;
  g_autoptr(GBytes) one = make(3, 40, &calls), other = make(3, 40, &calls), more = make(4, 40, &calls);
  g_assert_true(g_bytes_equal(one, other));
  g_assert_false(g_bytes_equal(one, more));
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/handover/paper/pages", test_pages);
  g_test_add_func("/handover/paper/same", test_same);
  return g_test_run();
}
