"""Options whose hours are alike share their arrays, and are assembled as each would be alone."""

from dataclasses import fields

import numpy as np
import pytest

from dewledger.assembly.machine import assemble, assemble_all
from dewledger.case import bundled_case, starter_kinds
from dewledger.study import read_weather


def same(one, other):
    if isinstance(one, np.ndarray):
        return np.array_equal(one, other)
    if isinstance(one, tuple):
        return len(one) == len(other) and all(map(same, one, other))
    if hasattr(one, "__dataclass_fields__"):
        return all(same(getattr(one, f.name), getattr(other, f.name)) for f in fields(one))
    return bool(one == other)


@pytest.mark.parametrize("kind", starter_kinds())
def test_machines_are_those_of_options_alone(kind):
    case = bundled_case(kind)
    year = read_weather(case)
    options = case.option_cases()
    for option, machine in zip(options, assemble_all(options, year), strict=True):
        alone = assemble(option, year)
        for field in fields(machine):
            ours, theirs = getattr(machine, field.name), getattr(alone, field.name)
            # NaN stands for what a unit does not know; it is never equal.
            assert repr(ours) == repr(theirs) or same(ours, theirs), field.name
        assert np.array_equal(machine.drivers, alone.drivers)


def test_what_changes_an_hour_parts_the_arrays():
    text = {
        "options.gas.humidity": {"limit": "45 %"},
        "options.electric.heating": {"source": "gas"},
    }
    case = bundled_case("music-school").with_values(text)
    machines = dict(
        zip(case.options, assemble_all(case.option_cases(), read_weather(case)), strict=True)
    )
    assert machines["none"].drivers is not machines["gas"].drivers
    assert machines["electric"].drivers is machines["condenser"].drivers
    assert machines["electric"].control.heating_gas == 1
