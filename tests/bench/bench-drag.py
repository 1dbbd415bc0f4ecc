# SPDX-License-Identifier: GPL-3.0-or-later
"""Runs bench-drag (the argument) on a virtual X server of its own, drawn without a graphics card."""
import os
import shutil
import subprocess
import sys
import tempfile

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "journeys"))
import window_bench

program = os.path.abspath(sys.argv[1])
folder = tempfile.mkdtemp(prefix="bench-drag-")
server, display = window_bench.start_display()
try:
    sys.exit(subprocess.run([program], env=window_bench.environment(folder, display)).returncode)
finally:
    server.terminate()
    server.wait()
    shutil.rmtree(folder, ignore_errors=True)
