/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The real sound helper behind one that goes wrong at a signal (SIGUSR1), while it sounds, in the way that it
 * is called by (a link's name). Until then it hands on everything both ways.
 */
#include "sound/protocol.h"

#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static volatile sig_atomic_t asked;

static void on_signal(int number)
{
  asked = 1;
}

static void write_all(int to, const void *bytes, size_t length)
{
  const char *at = bytes;
  while (length > 0) {
    ssize_t wrote = write(to, at, length);
    if (wrote <= 0)
      _exit(0);
    at += wrote;
    length -= (size_t)wrote;
  }
}

static G_GNUC_NORETURN void misbehave(const char *how)
{
  guint32 word = 12345;
  GByteArray *bytes = g_byte_array_new();
  if (strcmp(how, "dies") == 0)
    _exit(3);
  if (strcmp(how, "lies") == 0) { /* a head that announces more than there may be */
    const guint32 head[3] = {GUINT32_TO_LE(0x31535743u), GUINT32_TO_LE(CW_MESSAGE_TROUBLE),
                             GUINT32_TO_LE(0xfffffff0u)};
    write_all(STDOUT_FILENO, head, sizeof head);
  }
  cw_message_encode(&(CwMessage){.kind = CW_MESSAGE_STATUS}, bytes);
  while (strcmp(how, "floods") == 0)
    write_all(STDOUT_FILENO, bytes->data, bytes->len);
  for (int i = 0; i < 1000 && strcmp(how, "rubbish") == 0; i++) {
    word = word * 1664525u + 1013904223u;
    write_all(STDOUT_FILENO, &word, sizeof word);
  }
  for (;;) /* "hangs", and what comes after */
    pause();
}

static void hand_on(int from, int to)
{
  char bytes[65536];
  ssize_t got = read(from, bytes, sizeof bytes);
  if (got <= 0)
    _exit(0);
  write_all(to, bytes, (size_t)got);
}

int main(int argc, char **argv)
{
  const char *how = strrchr(argv[0], '/');
  int to[2], from[2];
  how = how ? how + 1 : argv[0];
  signal(SIGUSR1, on_signal);
  if (pipe(to) != 0 || pipe(from) != 0)
    return 2;
  if (fork() == 0) {
    dup2(to[0], STDIN_FILENO);
    dup2(from[1], STDOUT_FILENO);
    for (int fd = 3; fd < 64; fd++)
      close(fd);
    execl(SOUND_HELPER, SOUND_HELPER, NULL);
    _exit(2);
  }
  close(to[0]);
  close(from[1]);
  for (;;) {
    struct pollfd wait[2] = {{STDIN_FILENO, POLLIN, 0}, {from[0], POLLIN, 0}};
    poll(wait, 2, 10);
    if (asked)
      misbehave(how);
    if (wait[0].revents)
      hand_on(STDIN_FILENO, to[1]);
    if (wait[1].revents)
      hand_on(from[0], STDOUT_FILENO);
  }
}
