/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Calibration texts in the ways that they come in, and refused with the line where they are wrong. What a
 * number is worth is C's own strtod in the "C" locale. */
#include "job/sheet/calibration.h"
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

static CwNumbers *parse(const char *text, GError **error)
{
  return cw_calibration_parse(text, strlen(text), "curve.txt", error);
}

/* All of them are the same three points. */
static void test_ways_to_write(void)
{
  static const char *const texts[] = {
      "20 -1.5\n1000 0\n20000 2.25\n",
      "20\t-1.5\n1000\t0\n20000\t2.25",
      "20,-1.5\n1000,0\n20000,2.25\n",
      "20, -1.5\r\n1000, 0.0\r\n20000, +2.25\r\n",
      "20;-1,5\n1000;0,0\n20000;2,25\n",
      "20,0 -1,5\n1000,0 0,0\n20000,0 2,25\n",
      "  20   -1.5  \n\n 1.0e3   -0\n2E4 2.25\n",
      "20 -1.5 12\n1000 0 0\n20000 2.25 -170.5\n",
      "20,-1.5,12\n1000,0,0\n20000,2.25,-170.5\n",
      "20;-1,5;12\r1000;0;0\r20000;2,25;-170,5\r",
      "\xef\xbb\xbf* made in spring\n# Hz dB\n; by hand\n\"Frequency\" \"Level\"\n20 -1.5\n// middle\n1000 "
      "0\n!\n20000 2.25\n",
      "Serial 0147\nHz\tdB\n20\t-1.5\n1000\t0\n20000\t2.25\n",
      "Gr\xfc\xdf dich\n20 -1.5\n1000 .0\n20000. 2.25\n",
  };

  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++) {
    g_autoptr(GError) error = NULL;
    g_autoptr(CwNumbers) curve = parse(texts[i], &error);
    g_test_message("text %zu", i);
    g_assert_no_error(error);
    g_assert_cmpuint(curve->n_rows, ==, 3);
    g_assert_cmpuint(curve->n_columns, ==, 2);
    static const double expected[] = {20, -1.5, 1000, 0, 20000, 2.25};
    for (guint k = 0; k < 6; k++)
      g_assert_cmpfloat(curve->values[k], ==, expected[k]);
  }
}

static void test_refused(void)
{
  static const struct {
    const char *text, *says;
  } wrong[] = {
      {"", "curve.txt: at least two lines of Hz and dB were expected"},
      {"1000 0\n", "curve.txt: at least two lines"},
      {"just words\nand more\n", "curve.txt: at least two lines"},
      {"20 0\n1000\n", "curve.txt: line 2: two or three columns were expected"},
      {"20 0 0 0\n", "curve.txt: line 1: two or three columns were expected"},
      {"# one\n20 0\n30 0 5\n", "curve.txt: line 3: as many columns were expected as in the lines before"},
      {"20 0\n30 zero\n", "curve.txt: line 2: \"zero\" is not a number"},
      {"20 0\n\n30 0dB\n", "curve.txt: line 3: \"0dB\" is not a number"},
      {"20 0\nmore words\n", "curve.txt: line 2: \"more\" is not a number"},
      {"20 0\n20 1\n", "curve.txt: line 2: a higher frequency than in the line before was expected"},
      {"20 0\n10 1\n", "curve.txt: line 2: a higher frequency"},
      {"0 0\n10 1\n", "curve.txt: line 1: a frequency from 0.1"},
      {"-5 0\n10 1\n", "curve.txt: line 1: a frequency from 0.1"},
      {"20 61\n", "curve.txt: line 1: a level from -60 to 60 dB"},
      {"20 nan\n", "curve.txt: line 1: \"nan\" is not a number"},
      {"20 inf\n", "curve.txt: line 1: \"inf\" is not a number"},
      {"20 1e400\n", "curve.txt: line 1: \"1e400\" is not a number"},
      {"20 0x1p3\n", "curve.txt: line 1: \"0x1p3\" is not a number"},
      {"20 \xff\xfe\n", "curve.txt: line 1: \""},
  };

  for (gsize i = 0; i < G_N_ELEMENTS(wrong); i++) {
    g_autoptr(GError) error = NULL;
    g_test_message("text %zu", i);
    g_assert_null(parse(wrong[i].text, &error));
    g_assert_nonnull(error);
    g_assert_true(g_utf8_validate(error->message, -1, NULL));
    if (!g_str_has_prefix(error->message, wrong[i].says))
      g_error("said \"%s\", expected \"%s\"", error->message, wrong[i].says);
  }
  g_autoptr(GError) error = NULL;
  g_assert_null(cw_calibration_parse("20 0\n\0 1\n", 9, "curve.txt", &error));
  g_assert_cmpstr(error->message, ==, "curve.txt: line 2: text was expected");
}

/* Whatever curve is written, in any way, comes back the same. */
static void test_round_trip(void)
{
  static const char *const separators[] = {" ", "\t", ",", "; ", ", "};

  for (int turn = 0; turn < 200; turn++) {
    static const char marks[] = "*#;!%@~$&|<=>/\"'(";
    g_autoptr(GString) text = g_string_new("heading\n");
    const char *separator = separators[g_test_rand_int_range(0, G_N_ELEMENTS(separators))];
    guint rows = (guint)g_test_rand_int_range(2, 400);
    gboolean degrees = g_test_rand_bit();
    g_autofree double *values = g_new(double, 2 * rows);
    double hz = 1;
    char number[3][G_ASCII_DTOSTR_BUF_SIZE];
    for (guint i = 0; i < rows; i++) {
      values[2 * i] = hz += g_test_rand_double_range(0.01, 100);
      values[2 * i + 1] = g_test_rand_double_range(-60, 60);
      g_ascii_dtostr(number[0], sizeof number[0], values[2 * i]);
      g_ascii_dtostr(number[1], sizeof number[1], values[2 * i + 1]);
      g_ascii_dtostr(number[2], sizeof number[2], g_test_rand_double_range(-180, 180));
      g_string_append_printf(text, "%s%s%s%s%s\n", number[0], separator, number[1], degrees ? separator : "",
                             degrees ? number[2] : "");
      if (i % 7 == 3) /* a remark, whatever mark it begins with */
        g_string_append_printf(text, "%c 20 %u\n", marks[i % (sizeof marks - 1)], i);
    }
    g_autoptr(GError) error = NULL;
    g_autoptr(CwNumbers) curve = parse(text->str, &error);
    g_assert_no_error(error);
    g_assert_cmpmem(curve->values, 2 * rows * sizeof(double), values, 2 * rows * sizeof(double));
  }
}

/* Chopped, flipped and doubled bytes end in a curve or in words, never in anything else. */
static void test_broken_bytes(void)
{
  static const char whole[] = "* curve\n20;-1,5;12\n1000,0 0\n20000\t2.25\n";
  guint refused = 0;

  for (int turn = 0; turn < 20000; turn++) {
    g_autofree char *text = g_memdup2(whole, sizeof whole);
    gsize length = (gsize)g_test_rand_int_range(0, sizeof whole);
    for (int k = g_test_rand_int_range(0, 4); k > 0; k--)
      text[g_test_rand_int_range(0, sizeof whole)] = (char)g_test_rand_int_range(0, 256);
    g_autoptr(GError) error = NULL;
    g_autoptr(CwNumbers) curve = cw_calibration_parse(text, length, "curve.txt", &error);
    g_assert_true((curve != NULL) != (error != NULL));
    refused += error != NULL;
  }
  g_assert_cmpuint(refused, >, 1000);
}

static void test_file(void)
{
  g_autofree char *folder = g_dir_make_tmp("calibration-XXXXXX", NULL),
                  *path = g_build_filename(folder, "m.txt", NULL);
  g_autoptr(GError) error = NULL, missing = NULL, place = NULL;

  g_assert_true(g_file_set_contents(path, "20 1\n30 2\n", -1, NULL));
  g_autoptr(CwNumbers) curve = cw_calibration_read(path, &error);
  g_assert_no_error(error);
  g_assert_cmpuint(curve->n_rows, ==, 2);
  g_unlink(path);
  g_assert_null(cw_calibration_read(path, &missing));
  g_assert_true(g_str_has_prefix(missing->message, path));
  g_assert_null(cw_calibration_read(folder, &place));
  g_assert_error(place, CW_JOB_ERROR, CW_JOB_ERROR_FILE);
  g_rmdir(folder);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/job/calibration/ways-to-write", test_ways_to_write);
  g_test_add_func("/job/calibration/refused", test_refused);
  g_test_add_func("/job/calibration/round-trip", test_round_trip);
  g_test_add_func("/job/calibration/broken-bytes", test_broken_bytes);
  g_test_add_func("/job/calibration/file", test_file);
  return g_test_run();
}
