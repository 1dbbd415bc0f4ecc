/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

/* Before a function with long loops: it is built a second time with twice as wide vectors, for processors
 * that have them. Sums stay the same, bit for bit. The checkers cannot see through it. */
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && !defined(__SANITIZE_ADDRESS__) &&     \
    !defined(__SANITIZE_THREAD__)
#define CW_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define CW_WIDE
#endif
