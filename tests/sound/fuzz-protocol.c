/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes: messages or an error. Every message let through must encode, and decode to the same again. Bytes
 * that begin with { are a practice setup instead. */
#include "simulator/practice_setup.h"
#include "sound/protocol.h"

#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const guint8 *data, size_t size);

static void check_again(const CwMessage *message)
{
  GByteArray *once = g_byte_array_new(), *twice = g_byte_array_new();
  CwMessageParser *parser = cw_message_parser_new();
  CwMessage again;
  if (!cw_message_encode(message, once))
    abort();
  cw_message_parser_push(parser, once->data, once->len);
  if (!cw_message_parser_next(parser, &again, NULL) || !cw_message_encode(&again, twice) ||
      once->len != twice->len || memcmp(once->data, twice->data, once->len) != 0)
    abort();
  cw_message_clear(&again);
  cw_message_parser_free(parser);
  g_byte_array_unref(once);
  g_byte_array_unref(twice);
}

int LLVMFuzzerTestOneInput(const guint8 *data, size_t size)
{
  if (size > 0 && data[0] == '{') {
    char *text = g_strndup((const char *)data, size);
    cw_practice_setup_free(cw_practice_setup_parse(text, NULL));
    g_free(text);
    return 0;
  }
  CwMessageParser *parser = cw_message_parser_new();
  CwMessage message;
  cw_message_parser_push(parser, data, size);
  while (cw_message_parser_next(parser, &message, NULL)) {
    check_again(&message);
    if (message.kind == CW_MESSAGE_PRACTICE)
      cw_practice_setup_free(cw_practice_setup_parse(message.practice.text, NULL));
    cw_message_clear(&message);
  }
  cw_message_parser_free(parser);
  return 0;
}
