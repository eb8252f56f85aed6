"""Sweeps killed in the middle (kill -9): the rerun gives the same table to the byte, no point lost
or doubled, and no process stays behind."""

import os
import signal
import subprocess
import sys
import time

import pandas as pd
import pytest

from dewledger.analysis.sweep.run import sweep

VARY = {
    "humidity.limit": [f"{48 + 0.5 * k:.1f} %" for k in range(16)],
    "site.weather": "greensboro, miami",
}

SCRIPT = """
import sys
from pathlib import Path
from dewledger.analysis.sweep.run import sweep
from dewledger.case.files import case_from_text

if __name__ == "__main__":
    case = case_from_text(Path(sys.argv[1]).read_text(), Path(sys.argv[1]).parent)
    kwargs = eval(sys.argv[3])
    vary = eval(sys.argv[4])
    sweep(case, vary, sys.argv[2], **kwargs)
"""

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def case_file(hall, hall_text):
    path = hall.folder / "hall.toml"
    path.write_text(hall_text)
    return path


@pytest.fixture(scope="module")
def whole(hall, tmp_path_factory):
    out = tmp_path_factory.mktemp("whole") / "out"
    sweep(hall, VARY, out)
    return (out / "annual.csv").read_bytes()


def started(case_file, out, kwargs):
    script = case_file.parent / "run.py"
    script.write_text(SCRIPT)
    return subprocess.Popen(
        [sys.executable, str(script), str(case_file), str(out), repr(kwargs), repr(VARY)],
        start_new_session=True,
    )


def parts_of(out):
    """Files of the parts that are done: their digests stand."""
    files = sorted((out / "annual").glob("[!.]*")) if out.exists() else []
    return [path.name for path in files if (out / "parts" / f"{path.stem}.json").exists()]


def wait_for(condition, seconds=180.0):
    until = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < until, "it did not come to that"
        time.sleep(0.02)


def children_of(pid):
    """Processes whose parent is ``pid``, the resource tracker of multiprocessing left out."""
    found = []
    for name in os.listdir("/proc"):
        if not name.isdigit():
            continue
        try:
            with open(f"/proc/{name}/stat") as file:
                fields = file.read().rsplit(")", 1)[1].split()
            with open(f"/proc/{name}/cmdline") as file:
                command = file.read()
        except OSError:
            continue
        if int(fields[1]) == pid and fields[0] != "Z" and "resource_tracker" not in command:
            found.append(int(name))
    return found


def alive(pid):
    try:
        with open(f"/proc/{pid}/stat") as file:
            return file.read().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False


def check(out, whole):
    assert (out / "annual.csv").read_bytes() == whole
    table = pd.read_csv(out / "annual.csv")
    assert len(table) == 64
    assert not table.duplicated(["point", "option"]).any()
    assert not list(out.rglob("*.tmp"))


@pytest.mark.skipif(not os.path.isdir("/proc"), reason="looks at /proc")
@pytest.mark.parametrize("kwargs", [{}, {"workers": 2}], ids=["threads", "processes"])
def test_the_sweep_itself_is_killed(hall, case_file, tmp_path, whole, kwargs):
    out = tmp_path / "out"
    process = started(case_file, out, kwargs)
    wait_for(lambda: len(parts_of(out)) >= 3)
    workers = children_of(process.pid)
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    wait_for(lambda: not any(alive(pid) for pid in workers), 30.0)
    assert not (out / "annual.csv").exists()
    before = {name: (out / "annual" / name).stat().st_mtime_ns for name in parts_of(out)}
    assert 3 <= len(before) < 32
    sweep(hall, VARY, out, **kwargs)
    after = {name: (out / "annual" / name).stat().st_mtime_ns for name in before}
    assert after == before  # what was done was not done again
    check(out, whole)


@pytest.mark.skipif(not os.path.isdir("/proc"), reason="looks at /proc")
def test_a_worker_is_killed(case_file, tmp_path, whole):
    """The sweep goes on by itself: what the worker held is solved by another."""
    out = tmp_path / "out"
    process = started(case_file, out, {"workers": 2})
    wait_for(lambda: len(parts_of(out)) >= 2)
    os.kill(children_of(process.pid)[0], signal.SIGKILL)
    assert process.wait(300) == 0
    check(out, whole)


@pytest.mark.skipif(not os.path.isdir("/proc"), reason="looks at /proc")
def test_a_dask_worker_is_killed(hall, tmp_path, whole):
    distributed = pytest.importorskip("distributed")
    out = tmp_path / "out"
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        killed = []

        def kill(what, done, total):
            if done >= 4 and not killed:
                nanny = next(iter(cluster.workers.values()))
                killed.append(nanny.pid)
                os.kill(nanny.pid, signal.SIGKILL)

        sweep(hall, VARY, out, cluster=cluster.scheduler_address, progress=kill)
    assert killed
    check(out, whole)
