"""Nothing is compiled twice, and the hour reads its drivers by the names they stand under."""

import numba
import numpy as np
import pytest

from dewledger.hourly.reheat import source_at
from dewledger.hourly.types import DRIVERS, ReheatSource
from dewledger.hourly.year import hour_at, solve_rows
from dewledger.study import solve_option
from dewledger.weather.numerics import compiled


@pytest.mark.slow
def test_no_function_is_compiled_twice(demo_machines):
    """A literal in a call, an int where a float was: numba would make the function once more."""
    machine = demo_machines[1]["condenser-trim"]
    solve_option(machine)
    types = solve_rows.signatures[0]
    # What lies on disk shows nothing of the functions inside: the program is made once more.
    numba.njit(pipeline_class=compiled.ProgramCompiler, **compiled._PROGRAM)(
        solve_rows.py_func
    ).compile(types)
    forms = {one: compiled.signatures_of(one) for one in compiled._MARKED}
    assert sum(map(len, forms.values())) > 100
    assert [one.__name__ for one, made in forms.items() if len(made) > 1] == []


def test_drivers_and_sources_are_read_by_their_names():
    drivers = np.arange(2.0 * len(DRIVERS)).reshape(2, len(DRIVERS))
    assert hour_at(drivers, 1)._asdict() == dict(zip(DRIVERS, drivers[1], strict=True))
    rows = np.arange(10.0).reshape(2, 5)
    assert source_at(rows, 1) == ReheatSource(*rows[1])
