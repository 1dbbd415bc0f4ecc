# SPDX-License-Identifier: GPL-3.0-or-later
"""A bench for journeys through the window: a private X server, a private session bus, folders of its own, and the program
driven through its accessibility tree and by keys, as people who cannot use a mouse do it."""
import glob
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time

SKIP = 77
STAGES = ["Vehicle sheet", "Supply and wiring", "Factory signal", "Channel map", "Levels", "Measuring", "Tuning", "Proof", "Hand-over"]
INSIDE = "CABINWRIGHT_JOURNEY_INSIDE"
PROGRAM = CONSOLE = None  # set by main()
PICTURES = os.environ.get("CABINWRIGHT_JOURNEY_PICTURES")


def skip(why):
    print(f"SKIP: {why}")
    sys.exit(SKIP)


def start_display():
    """A virtual X server on a display that it chooses; skips where none can be started."""
    if not shutil.which("Xvfb"):
        skip("no Xvfb: the window needs a display")
    reading, writing = os.pipe()
    server = subprocess.Popen(["Xvfb", "-displayfd", str(writing), "-screen", "0", "1366x768x24", "-nolisten", "tcp", "-noreset"],
                              pass_fds=[writing], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    os.close(writing)
    with os.fdopen(reading) as pipe:
        number = pipe.readline().strip()
    if not number:
        skip("Xvfb does not start here")
    return server, f":{number}"


def environment(folder, display):
    home = {name: os.path.join(folder, name.lower()) for name in
            ("HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME", "XDG_STATE_HOME", "XDG_RUNTIME_DIR")}
    for path in home.values():
        os.makedirs(path, mode=0o700, exist_ok=True)
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("WAYLAND", "DBUS", "GTK_MODULES"))}
    return {**kept, **home, "DISPLAY": display, "GDK_BACKEND": "x11", "GSK_RENDERER": "cairo", "GSETTINGS_BACKEND": "memory",
            "LC_ALL": "C.UTF-8", "TZ": "UTC", "GTK_THEME": os.environ.get("GTK_THEME", "Adwaita"), "NO_AT_BRIDGE": "0", INSIDE: folder}


def main(journey):
    """Runs journey(bench). The first run sets up display and bus and starts this script again inside them."""
    global PROGRAM, CONSOLE
    PROGRAM, CONSOLE = (os.path.abspath(path) for path in sys.argv[1:3])
    try:
        import gi
        gi.require_version("Atspi", "2.0")
    except (ImportError, ValueError):
        skip("no gi with Atspi 2.0")
    if INSIDE not in os.environ:
        sys.exit(run_outside())
    bench = Bench(os.environ[INSIDE])
    try:
        journey(bench)
    except BaseException:
        bench.picture("failed")
        print(bench.log(), file=sys.stderr)
        print(bench.say_tree(), file=sys.stderr)
        raise
    finally:
        bench.close()


def run_outside():
    for tool in ("dbus-run-session", "xdotool"):
        if not shutil.which(tool):
            skip(f"no {tool}")
    folder = tempfile.mkdtemp(prefix="window-journey-")
    server, display = start_display()
    try:
        return subprocess.run(["dbus-run-session", "--", sys.executable, *sys.argv], env=environment(folder, display)).returncode
    finally:
        server.terminate()
        server.wait()
        shutil.rmtree(folder, ignore_errors=True)


PATIENCE = 12  # times what an idle machine needs: what is waited for is looked for until then, and no longer than until it is there


class Stopwatch:
    """Seconds since it was made, and how many times longer than on an idle machine work has taken since: promises of time are made
    for such a one. A thread works a millisecond in every twenty and sees how long that takes."""
    REST, WORK, WAKING_PART = 0.019, 0.001, 0.3

    def __init__(self):
        self.start, self.wall, self.work, self.going = time.monotonic(), 0.0, 0.0, True
        self.thread = threading.Thread(target=self.measure, daemon=True)
        self.thread.start()

    def measure(self):
        while self.going:
            due, before = time.monotonic() + self.REST, time.thread_time()
            time.sleep(self.REST)
            while time.thread_time() - before < self.WORK:
                pass
            self.wall, self.work = self.wall + time.monotonic() - due, self.work + time.thread_time() - before

    def stop(self):
        """Seconds, and the slowness: 1 and more."""
        seconds, self.going = time.monotonic() - self.start, False
        self.thread.join()
        return seconds, max(self.wall / self.work - self.WAKING_PART, 1)


class Bench:
    def __init__(self, folder):
        self.folder = folder
        self.program = None

    # --- the program -------------------------------------------------------------------------------------------------

    def start(self, *arguments):
        self.log_path = os.path.join(self.folder, "log")
        with open(self.log_path, "ab") as log:
            self.program = subprocess.Popen([PROGRAM, *arguments], stdout=log, stderr=log, cwd=self.folder)
        self.find("Cabinwright", "frame", seconds=30, prefix=False) if not arguments else self.wait(lambda: self.frame(), 30)
        window = self.wait(self.window_id, 10)
        subprocess.run(["xdotool", "windowmove", window, "0", "0", "windowsize", window, "1366", "768", "windowfocus", window], check=False)
        time.sleep(0.5)

    def window_id(self):
        said = subprocess.run(["xdotool", "search", "--onlyvisible", "--pid", str(self.program.pid)], capture_output=True, text=True)
        return said.stdout.split()[-1] if said.stdout.split() else None

    def quit(self):
        """Ends the program as people do, and judges how it ended."""
        self.keys("ctrl+q")
        code = self.program.wait(timeout=20 * PATIENCE)
        said = self.log()
        assert code == 0, f"the program ended with {code}: {said}"
        for word in ("CRITICAL", "Sanitizer", "runtime error"):
            assert word not in said, said

    def close(self):
        if self.program and self.program.poll() is None:
            self.program.send_signal(signal.SIGTERM)
            try:
                self.program.wait(timeout=10)
            except subprocess.TimeoutExpired:
                self.program.kill()

    def log(self):
        with open(self.log_path, errors="replace") as log:
            return log.read()

    def console(self, *arguments):
        done = subprocess.run([CONSOLE, *arguments], capture_output=True, text=True, cwd=self.folder)
        assert done.returncode == 0, done.stderr
        return done.stdout

    # --- looking -----------------------------------------------------------------------------------------------------

    def wait(self, probe, seconds=10):
        """What probe() gives as soon as it gives something."""
        until = time.monotonic() + PATIENCE * seconds
        while True:
            found = probe()
            if found:
                return found
            if self.program and self.program.poll() is not None:
                raise AssertionError(f"the program ended by itself with {self.program.returncode}: {self.log()}")
            assert time.monotonic() < until, f"not there after {PATIENCE * seconds} s: {getattr(probe, 'what', probe)}"
            time.sleep(0.05)

    def application(self):
        from gi.repository import Atspi
        desktop = Atspi.get_desktop(0)
        for i in range(desktop.get_child_count()):
            child = desktop.get_child_at_index(i)
            if child and child.get_process_id() == self.program.pid:
                return child
        return None

    def frame(self):
        application = self.application()
        return application.get_child_at_index(0) if application and application.get_child_count() else None

    def walk(self, node=None):
        """What is on the screen, from the windows down."""
        from gi.repository import Atspi, GLib
        try:
            if node:
                yield node
            node = node or self.application()
            for i in range(node.get_child_count() if node else 0):
                child = node.get_child_at_index(i)
                if child and child.get_state_set().contains(Atspi.StateType.VISIBLE):
                    yield from self.walk(child)
        except GLib.Error:
            return  # it went while it was looked at

    def look(self, name, role=None, prefix=True):
        for node in self.walk():
            said = node.get_name() or ""
            if (said.startswith(name) if prefix else said == name) and (role is None or node.get_role_name() == role):
                return node
        return None

    def find(self, name, role=None, seconds=10, prefix=True):
        def probe():
            return self.look(name, role, prefix)
        probe.what = f"{role or 'anything'} named {name!r}"
        return self.wait(probe, seconds)

    def say_tree(self):
        lines = []
        for node in self.walk():
            if node.get_name():
                lines.append(f"{node.get_role_name()}: {node.get_name()}")
        return "\n".join(lines[:400])

    def text(self, node):
        from gi.repository import Atspi
        count = Atspi.Text.get_character_count(node)
        return Atspi.Text.get_text(node, 0, count)

    def is_sensitive(self, node):
        from gi.repository import Atspi
        return node.get_state_set().contains(Atspi.StateType.SENSITIVE)

    # --- doing -------------------------------------------------------------------------------------------------------

    def press(self, name, role="push button", seconds=10):
        def probe():
            node = self.look(name, role)
            return node if node and self.is_sensitive(node) else None
        probe.what = f"{role} {name!r} that can be pressed"
        node = self.wait(probe, seconds)
        assert node.get_action_iface().do_action(0), f"{name} cannot be pressed"
        time.sleep(0.15)

    def keys(self, *keys):
        for key in keys:
            subprocess.run(["xdotool", "key", "--clearmodifiers", key], check=True)
            time.sleep(0.15)

    def keys_at_once(self, *keys):
        """The proposal of a tune is done before a hand or another program could find a button to cancel it."""
        subprocess.run(["xdotool", "key", "--clearmodifiers", *keys], check=True)

    def type(self, text):
        subprocess.run(["xdotool", "type", "--delay", "4", text], check=True)

    def focus(self, name, role="text"):
        """Brings the focus to something by the Tab key alone."""
        from gi.repository import Atspi
        node = self.find(name, role)
        for _ in range(120):
            if node.get_state_set().contains(Atspi.StateType.FOCUSED):
                return
            subprocess.run(["xdotool", "key", "Tab"], check=True)
            time.sleep(0.04)
        raise AssertionError(f"the Tab key does not reach {name}")

    def open_list(self, name):
        """Opens a drop-down list; the arrow keys and Return then choose."""
        button = self.find(name, "combo box").get_child_at_index(0)
        assert button.get_action_iface().do_action(0), f"the list {name} does not open"
        time.sleep(0.4)

    def enter(self, name, text):
        """Types into an entry and presses Enter."""
        self.focus(name)
        self.keys("ctrl+a")
        self.type(text)
        self.keys("Return")

    def open_file(self, path):
        """Answers the chooser that is coming up. The first Return may only take the proposed end of the name."""
        def is_open():
            return any("Cancel" in (node.get_name() or "") for node in self.walk())
        self.wait(is_open)
        self.keys("ctrl+l")
        self.wait(lambda: self.focused_role() == "text")
        self.type(path)
        self.keys("Return")
        time.sleep(0.2)
        if is_open():
            self.keys("Return")

    def focused_role(self):
        from gi.repository import Atspi
        roles = [node.get_role_name() for node in self.walk() if node.get_state_set().contains(Atspi.StateType.FOCUSED)]
        return roles[-1] if roles else None

    def go_to_stage(self, number):
        self.keys(f"ctrl+{number}")

    def picture(self, name):
        """A picture of the screen, where CABINWRIGHT_JOURNEY_PICTURES names a folder for them."""
        if not PICTURES or not shutil.which("import"):
            return
        os.makedirs(PICTURES, exist_ok=True)
        subprocess.run(["xdotool", "mousemove", "1365", "1"], check=False)
        time.sleep(0.6)
        subprocess.run(["import", "-window", "root", os.path.join(PICTURES, name + ".png")], check=False)

    def vehicle_file(self):
        found = glob.glob(os.path.join(self.folder, "xdg_data_home", "cabinwright", "practice", "alder-tourer.cabin"))
        assert found, "the practice vehicle has no file"
        return found[0]

    def document(self):
        """What the file holds now: the window writes every edit at once, and another program may read it meanwhile."""
        return json.loads(self.console("show", self.vehicle_file(), "--json"))

    def open_the_practice_bay(self):
        """From the page that greets to the practice vehicle with its nine stages."""
        self.start()
        self.find("New vehicle", "push button")
        self.find("Open", "push button")
        self.picture("start")
        self.press("Open the practice bay")
        self.find("J-0147")
        for number, name in enumerate(STAGES, 1):
            self.find(f"{number} {name}: ")
