"""Signals: nothing of the command outlives it, and a stop is obeyed while compiling too."""

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

pytestmark = [
    pytest.mark.fuzz,
    pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="reads processes from /proc"),
]

MAIN = [sys.executable, "-c", "from dewledger.reports.command.app import main; main()"]
KILLS = min(60, 4 * int(os.environ.get("DEWLEDGER_FUZZ", "1")))


def alive(session):
    """Processes of a session that run; one that waits to be reaped (Z) has ended."""
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            after_name = path.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(after_name[3]) == session and after_name[0] != "Z":
            found.append(int(path.parent.name))
    return found


def begin(folder, **environment):
    return subprocess.Popen(
        [*MAIN, "demo", "--out", str(folder / "results")],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        env={**os.environ, **environment},
    )


def wait_until_nobody_is_left(session):
    for _ in range(200):
        if not (left := alive(session)):
            return
        time.sleep(0.05)
    pytest.fail(f"processes {left} outlived the command")


@pytest.mark.parametrize("kill", range(KILLS))
def test_kills_at_random_moments_leave_no_process(tmp_path, kill):
    """After SIGTERM no hidden folder either; after SIGKILL nobody is left to remove one."""
    drawn = random.Random(kill)
    number = (signal.SIGTERM, signal.SIGKILL)[kill % 2]
    process = begin(tmp_path)
    time.sleep(drawn.uniform(0.05, 5.0))
    process.send_signal(number)
    _, said = process.communicate(timeout=60)
    wait_until_nobody_is_left(process.pid)
    assert "Traceback" not in said
    if number == signal.SIGTERM:
        # Before the command has taken the signal over, it ends as any process does.
        assert process.returncode in (143, -signal.SIGTERM, 0)
        assert [path.name for path in tmp_path.iterdir()] in ([], ["results"])


# Work that, like compiling, is one long call outside Python; a folder in the making; a child.
STUBBORN = """
import hashlib, multiprocessing, pathlib, sys, threading, time
from dewledger.reports.command.ending import to_an_end, watch_for_stops
from dewledger.reports.files.unfinished import in_the_making

def work():
    watch_for_stops()
    multiprocessing.get_context("fork").Process(target=time.sleep, args=(600,)).start()
    with in_the_making(pathlib.Path(sys.argv[1]) / "results"):
        if sys.argv[2] == "python":
            print("at work", flush=True)
            while True:
                pass
        long_call = threading.Thread(target=call)  # what leaving the interpreter waits for
        if sys.argv[2] == "exit":
            long_call.start()
        print("at work", flush=True)
        call()

def call():
    hashlib.pbkdf2_hmac("sha256", b"a", b"b", 2_000_000_000)

to_an_end(work)
"""


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
@pytest.mark.parametrize("inside", ["long call", "python", "exit"])
def test_a_stop_is_obeyed_wherever_the_work_stands(tmp_path, number, inside):
    process = subprocess.Popen(
        [sys.executable, "-W", "ignore", "-c", STUBBORN, str(tmp_path), inside],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    assert process.stdout is not None
    assert process.stdout.readline() == "at work\n"
    assert len(list(tmp_path.iterdir())) == 1
    process.send_signal(number)
    said = process.communicate(timeout=60)[1]  # a guard: the call takes half an hour
    wait_until_nobody_is_left(process.pid)
    assert process.returncode == 128 + number
    assert said.strip() == "dewledger: stopped; nothing was written"
    assert list(tmp_path.iterdir()) == []


LOST = """
import os, signal
from dewledger.reports.command.ending import to_an_end

class Going:
    def __del__(self):
        os.kill(os.getpid(), signal.SIGTERM)
        for _ in range(1000):
            pass

def work():
    Going()
    while True:
        pass

to_an_end(work)
"""


def test_a_stop_is_obeyed_where_python_cannot_raise_it():
    done = subprocess.run(
        [sys.executable, "-c", LOST], capture_output=True, text=True, timeout=60
    )  # a guard
    assert done.returncode == 143
    assert done.stderr.strip() == "dewledger: stopped; nothing was written"


@pytest.mark.skipif(KILLS < 60, reason="compiles for minutes; DEWLEDGER_FUZZ=15 or more runs it")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_stop_is_obeyed_while_compiling(tmp_path, number):
    process = begin(tmp_path, XDG_CACHE_HOME=str(tmp_path / "cache"))
    assert process.stderr is not None
    for line in process.stderr:
        if line.startswith("solving"):
            break
    time.sleep(random.Random(int(number)).uniform(0.5, 8.0))
    process.send_signal(number)
    # A guard of 2 s, as asked, and as much again for each process that is waiting for a core.
    waiting = os.getloadavg()[0] / (os.cpu_count() or 1)
    said = process.communicate(timeout=2.0 * (1.0 + waiting))[1]
    wait_until_nobody_is_left(process.pid)
    assert process.returncode == 128 + number
    assert said.strip().endswith("dewledger: stopped; nothing was written")
    assert [path.name for path in tmp_path.iterdir()] == ["cache"]
