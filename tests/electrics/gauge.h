/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <stdlib.h>
#include <string.h>

/* The gauge in a table's words: "0000" is -3, "00" is -1, "4" is 4. */
static inline int gauge_of(const char *text)
{
  return strspn(text, "0") == strlen(text) ? 1 - (int)strlen(text) : atoi(text);
}
