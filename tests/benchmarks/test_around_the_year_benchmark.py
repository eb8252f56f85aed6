"""Processor time around the compiled year: totals, a study, a sweep, the command, the first run.

Nothing is asserted on time; ``pytest -n 0 -m benchmark -s`` prints the figures with the load of the
machine, which processor time does not leave out altogether.
"""

import os
import subprocess
import sys
import time

import pytest
from former_premises import former_text, on_former_premises

from dewledger.analysis.sweep.work import solve_point
from dewledger.assembly.machine import assemble
from dewledger.assembly.short_year import short_ledger
from dewledger.case.files import bundled_text, case_from_text
from dewledger.study import read_weather, run_study, simulate, solve_option

CASES = {
    "frozen": lambda: on_former_premises(former_text("music-school")),
    "own premises": lambda: former_text("music-school"),
    "demo": lambda: bundled_text("music-school"),
}


def least_ms(work, times=5):
    """Processor time [ms] of the quickest of some runs, once warm."""
    work()
    found = []
    for _ in range(times):
        start = time.process_time()
        work()
        found.append(time.process_time() - start)
    return 1000.0 * min(found)


@pytest.mark.benchmark
@pytest.mark.parametrize("premises", CASES)
def test_year_study_and_sweep(premises):
    """Milliseconds an option: ledger, totals, accounts alone, a study, a point of a sweep."""
    case = case_from_text(CASES[premises]())
    weather = read_weather(case)
    options = case.option_cases()
    machine = {one.key: assemble(one, weather) for one in options}["condenser"]
    changed = {"humidity.limit": "50 %"}
    figures = {
        "ledger": least_ms(lambda: solve_option(machine, 0)),
        "totals": least_ms(lambda: short_ledger(machine, 0)),
        "accounts alone": least_ms(lambda: simulate(case, weather), 3) / len(options),
        "study": least_ms(lambda: run_study(case, weather), 3) / len(options),
        "point of a sweep": least_ms(lambda: solve_point(case.with_values(changed), weather))
        / len(options),
    }
    told = ", ".join(f"{name} {value:.1f}" for name, value in figures.items())
    print(f"\n{premises} (load {os.getloadavg()[0]:.1f}): {told} ms")


def spent(arguments, times, **environment):
    """Processor time [s] of a fresh process, the least of some, and the most memory [MB].

    "{}" in an argument is the number of the run.
    """
    seconds, memory = [], 0.0
    for number in range(times):
        process = subprocess.Popen(
            [sys.executable, *(one.replace("{}", str(number)) for one in arguments)],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env={**os.environ, **environment},
        )  # fmt: skip
        # Of this process and those that it waited for alone, not of all that ran before.
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        assert process.returncode in (0, 1)  # 1: there is something to look at
        seconds.append(used.ru_utime + used.ru_stime)
        memory = max(memory, used.ru_maxrss / 1024.0)
    return min(seconds), memory


_FIRST = """
from dewledger.case import bundled_case
from dewledger.study import read_weather, solve_option
from dewledger.assembly.machine import assemble
case = bundled_case("music-school")
solve_option(assemble(case.option_cases()[0], read_weather(case)))
"""


@pytest.mark.benchmark
def test_command_and_first_run(tmp_path):
    """Seconds of processor time: --help, check and the demo warm; the first year of a machine."""
    case = tmp_path / "case.toml"
    case.write_text(bundled_text("rooftop"))
    runs = {
        "--help": (["-m", "dewledger", "--help"], 3),
        "check": (["-m", "dewledger", "check", str(case)], 3),
        "demo": (["-m", "dewledger", "demo", "--out", str(tmp_path / "demo{}")], 2),
    }
    print(f"\nload {os.getloadavg()[0]:.1f}")
    for name, (arguments, times) in runs.items():
        seconds, _ = spent(arguments, times)
        print(f"{name}: {seconds:.2f} s")
    cache = tmp_path / "cache"
    cache.mkdir(mode=0o700)
    seconds, memory = spent(["-c", _FIRST], 1, XDG_CACHE_HOME=str(cache))
    print(f"first year: {seconds:.1f} s, {memory:.0f} MB")
