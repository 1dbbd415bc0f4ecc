/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <glib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size);

static const char *folder;

/* One change of the kinds that find faults in readers: a byte, a piece gone or doubled, a bracket, a long
 * number. */
static void mutate(GString *text, GRand *random)
{
  static const char *const pieces[] = {"[",    "]",  "{",     "}",     "\"",  "\\",      ",",   ":",
                                       "null", "-0", "1e308", "9e999", "0.1", "\\u0000", "\xff"};
  gsize at = text->len ? (gsize)g_rand_int(random) % text->len : 0;
  gsize wanted = (gsize)g_rand_int_range(random, 1, 40), n = MIN(text->len - at, wanted);
  switch (g_rand_int_range(random, 0, 4)) {
  case 0:
    if (text->len)
      text->str[at] = (char)g_rand_int_range(random, 0, 256);
    break;
  case 1:
    g_string_erase(text, (gssize)at, (gssize)n);
    break;
  case 2: {
    g_autofree char *piece = g_memdup2(text->str + at, n + 1);
    g_string_insert_len(text, (gssize)at, piece, (gssize)n);
    break;
  }
  default:
    g_string_insert(text, (gssize)at, pieces[g_rand_int_range(random, 0, G_N_ELEMENTS(pieces))]);
  }
}

static void test_corpus(void)
{
  GRand *random = g_rand_new_with_seed(147);
  GDir *names = g_dir_open(folder, 0, NULL);
  const char *name;
  guint n_files = 0;
  g_assert_nonnull(names);
  while ((name = g_dir_read_name(names))) {
    g_autofree char *path = g_build_filename(folder, name, NULL), *bytes = NULL;
    gsize length;
    g_assert_true(g_file_get_contents(path, &bytes, &length, NULL));
    LLVMFuzzerTestOneInput((const unsigned char *)bytes, length);
    n_files++;
    for (int i = 0; i < 400; i++) {
      g_autoptr(GString) text = g_string_new_len(bytes, (gssize)length);
      for (int k = g_rand_int_range(random, 1, 4); k > 0; k--)
        mutate(text, random);
      g_autofree unsigned char *exact =
          g_memdup2(text->str, MAX(text->len, 1)); /* so that a byte too far is seen */
      LLVMFuzzerTestOneInput(exact, text->len);
    }
  }
  g_dir_close(names);
  g_rand_free(random);
  g_assert_cmpuint(n_files, >=, 8);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  folder = argc > 1 ? argv[1] : "corpus";
  g_test_add_func("/vehicle/corpus/replay", test_corpus);
  return g_test_run();
}
