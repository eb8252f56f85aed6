"""Nothing is compiled twice, and the hour reads its drivers by the names they stand under."""

import numba
import numpy as np
import pytest

from dewledger.assembly.machine import assemble
from dewledger.case import bundled_case
from dewledger.hourly.ledger import BLOCK_HOURS, NAMES
from dewledger.hourly.reheat import source_at
from dewledger.hourly.types import DRIVERS, ReheatSource
from dewledger.hourly.year import WHOLE, hour_at, solve_rows
from dewledger.study import read_weather, solve_option
from dewledger.weather.numerics import compiled, machine_code


@pytest.mark.slow
def test_no_function_is_compiled_twice(demo_machines):
    """A literal in a call, an int where a float was: numba would make the function once more."""
    machine = demo_machines[1]["condenser-trim"]
    solve_option(machine)
    types = solve_rows.made_for(*machine.of_year).signatures[0]
    # What lies on disk shows nothing of the functions inside: the program is made once more.
    numba.njit(pipeline_class=machine_code.ProgramCompiler, **machine_code._PROGRAM)(
        solve_rows.py_func
    ).compile(types)
    forms = {
        one: set(map(without_choices, machine_code.signatures_of(one))) for one in compiled.MARKED
    }
    assert sum(map(len, forms.values())) > 100
    assert [one.__name__ for one, made in forms.items() if len(made) > 1] == []


def without_choices(signature):
    """Types of arguments, whichever program they were for: one of its own for a common machine."""
    return tuple(
        machine_code._Address(one.whole) if isinstance(one, machine_code._Address) else one
        for one in signature
    )


def test_drivers_and_sources_are_read_by_their_names():
    drivers = np.arange(2.0 * len(DRIVERS)).reshape(2, len(DRIVERS))
    assert hour_at(drivers, 1)._asdict() == dict(zip(DRIVERS, drivers[1], strict=True))
    rows = np.arange(10.0).reshape(2, 5)
    assert source_at(rows, 1) == ReheatSource(*rows[1])


@pytest.mark.parametrize(("kind", "place"), [("museum-store", 0), ("rooftop", 3), ("archive", 2)])
def test_a_common_machine_has_the_year_that_any_machine_would(kind, place):
    """Its program knows its choices; that of any machine reads them."""
    case = bundled_case(kind)
    machine = assemble(case.option_cases()[place], read_weather(case))
    ledgers = np.empty((2, len(NAMES), 240))
    own = solve_rows.made_for(*machine.of_year)
    general = solve_rows.made_for()
    assert own is not general
    for program, ledger in zip((own, general), ledgers, strict=True):
        drivers = np.ascontiguousarray(machine.drivers[4000:4240])
        block = np.empty((BLOCK_HOURS, len(NAMES)))
        program(*machine.of_year[:-1], drivers, 24, WHOLE, block, ledger)
    scale = np.nanmax(np.abs(ledgers[1]), axis=1, initial=1e-3, keepdims=True)
    assert np.nan_to_num(ledgers[0] / scale) == pytest.approx(
        np.nan_to_num(ledgers[1] / scale), abs=1e-7
    )
    assert ledgers[0][NAMES.index("compressor_runtime_frac")].sum() > 1.0
