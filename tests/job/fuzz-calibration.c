/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/sheet/calibration.h"
#include <math.h>

/* A fuzz target (libFuzzer's entry point): whatever the bytes are, reading ends with a rising curve of finite
 * numbers or with one line of error in UTF-8. Built with -Dc_args=-fsanitize=fuzzer-no-link under clang. */
int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size);

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwNumbers) curve = cw_calibration_parse((const char *)data, size, "curve", &error);

  g_assert_true((curve != NULL) != (error != NULL));
  if (error)
    g_assert_true(g_utf8_validate(error->message, -1, NULL));
  for (guint i = 0; curve && i < curve->n_rows; i++) {
    g_assert_true(isfinite(cw_numbers_at(curve, i, 0)) && isfinite(cw_numbers_at(curve, i, 1)));
    g_assert_true(i == 0 || cw_numbers_at(curve, i, 0) > cw_numbers_at(curve, i - 1, 0));
  }
  return 0;
}
