/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "callback-guard.h"

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)

gboolean cw_guard_works(void)
{
  return FALSE;
}

void cw_guard_begin(void)
{
}

guint cw_guard_end(void)
{
  return 0;
}

#else

#include <dlfcn.h>
#include <errno.h>
#include <pthread.h>
#include <stddef.h>

/* The C library's own, which it keeps under these names for this purpose. */
void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *memory, size_t size);
void *__libc_memalign(size_t alignment, size_t size);
void __libc_free(void *memory);

static __thread gboolean watching;
static __thread guint counted;

static void note(void)
{
  if (watching)
    counted++;
}

void *malloc(size_t size)
{
  note();
  return __libc_malloc(size);
}

void *calloc(size_t count, size_t size)
{
  note();
  return __libc_calloc(count, size);
}

void *realloc(void *memory, size_t size)
{
  note();
  return __libc_realloc(memory, size);
}

void *aligned_alloc(size_t alignment, size_t size)
{
  note();
  return __libc_memalign(alignment, size);
}

int posix_memalign(void **memory, size_t alignment, size_t size)
{
  note();
  *memory = __libc_memalign(alignment, size);
  return *memory ? 0 : ENOMEM;
}

void free(void *memory)
{
  note();
  __libc_free(memory);
}

/* The real one is found at the first call, which is long before any test. */
int pthread_mutex_lock(pthread_mutex_t *mutex)
{
  static int (*next)(pthread_mutex_t *);
  note();
  if (!next)
    *(void **)&next = dlsym(RTLD_NEXT, "pthread_mutex_lock");
  return next(mutex);
}

gboolean cw_guard_works(void)
{
  return TRUE;
}

void cw_guard_begin(void)
{
  counted = 0;
  watching = TRUE;
}

guint cw_guard_end(void)
{
  watching = FALSE;
  return counted;
}

#endif
