# SPDX-License-Identifier: GPL-3.0-or-later
"""What the programs were built with, read back from their ELF headers by readelf (binutils): position independent, relocations
read-only and bound at the start, no executable stack, stack protector and checked C library calls.

Usage: test-hardening.py PROGRAM..."""
import re
import subprocess
import sys
import unittest

PROGRAMS = []


def readelf(option, program):
    return subprocess.run(["readelf", "-W", option, program], check=True, capture_output=True, text=True).stdout


class Hardening(unittest.TestCase):
    def test_programs(self):
        self.assertTrue(PROGRAMS)
        for program in PROGRAMS:
            with self.subTest(program=program.rsplit("/", 1)[-1]):
                segments, dynamic, symbols = readelf("-l", program), readelf("-d", program), readelf("--dyn-syms", program)
                self.assertIn("DYN (Position-Independent Executable file)", readelf("-h", program))
                self.assertIn("GNU_RELRO", segments)
                self.assertIn("BIND_NOW", dynamic)
                self.assertRegex(segments, r"GNU_STACK\s+\S+\s+\S+\s+\S+\s+\S+\s+\S+\s+RW\s")
                self.assertIn("__stack_chk_fail", symbols)
                self.assertTrue(re.search(r"__\w+_chk@", symbols), "no checked call of the C library")


if __name__ == "__main__":
    PROGRAMS = sys.argv[1:]
    unittest.main(argv=sys.argv[:1], verbosity=2)
