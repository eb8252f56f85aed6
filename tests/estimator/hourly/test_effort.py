"""How often an hour's searches evaluate the unit: counted, since seconds are the machine's.

An evaluation of the unit's steady state takes about a microsecond of compiled code, so that a year
of 8760 hours at 115 evaluations each takes a second. The cases are the slowest that some thousands
of random and hostile ones had, each on the day that took it longest.
"""

import pickle
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from random_cases import drawn, extreme_climate

from dewledger.assembly.machine import assemble
from dewledger.case import case_from_text
from dewledger.study import read_weather

# The hour as plain Python, its evaluations counted by name. psychrolib compiles itself where it can
# import numba: it is imported without.
COUNT = """
import os, pickle, sys
os.environ["NUMBA_DISABLE_JIT"] = "1"
kept = __import__("numba"); sys.modules["numba"] = None; import psychrolib
sys.modules["numba"] = kept
from dewledger.dx_unit.steady_state import steady_state
from dewledger.hourly.ledger import empty_ledger
from dewledger.hourly.year import solve_year
arguments = pickle.load(open(sys.argv[1], "rb"))
hours, counted, code = len(arguments[5]), 0, steady_state.__code__
def count(frame, event, _):
    global counted
    counted += event == "call" and frame.f_code is code
sys.setprofile(count)
solve_year(*arguments, 0, empty_ledger(hours))
sys.setprofile(None)
print(counted / hours)
"""


def evaluations(text, day, folder, climate=None):
    """Evaluations an hour on a day of the year, cold: nothing is known of the day before."""
    case = case_from_text(text)
    machine = assemble(case.option_cases()[0], read_weather(case))
    if climate is not None:
        machine = replace(machine, drivers=extreme_climate(machine.drivers, climate))
    drivers = np.ascontiguousarray(machine.drivers[24 * day : 24 * day + 24])
    path = folder / "day.pkl"
    path.write_bytes(
        pickle.dumps((machine.unit.map, machine.plant, machine.room, machine.control,
                      machine.sources, drivers))
    )  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-c", COUNT, str(path)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr[-1000:]
    return float(done.stdout)


@pytest.mark.parametrize(
    ("text", "day", "climate", "most"),
    [
        (drawn(567), 224, None, 109),
        (drawn(744), 65, None, 90),
        pytest.param(drawn(491), 64, None, 98, marks=pytest.mark.slow),
        pytest.param(drawn(457), 16, None, 30, marks=pytest.mark.slow),
    ],
    ids=[
        "subcooling, 4 C",
        "variable without reheat",
        "subcooling, wet coil",
        "subcooling, Sand Point",
    ],
)
def test_evaluations_of_the_worst_days(text, day, climate, most, tmp_path):
    assert evaluations(text, day, tmp_path, climate) <= most
