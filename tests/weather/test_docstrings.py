"""What every public function of moist air and sun says: units in brackets, and its source."""

import inspect

import pytest

from dewledger.weather.physics import moist_air, solar

UNITS = ("C]", "Pa", "kg/kg", "J/", "1]", "m", "W/m2", "deg")
FUNCTIONS = [
    function
    for module in (moist_air, solar)
    for name, member in vars(module).items()
    for function in [getattr(member, "py_func", member)]
    if not name.startswith("_")
    and inspect.isfunction(function)
    and function.__module__ == module.__name__
]


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda function: function.__name__)
def test_units_and_source_are_said(function):
    said = " ".join((function.__doc__ or "").split())
    assert any(f"[{unit}" in said for unit in UNITS) or "Units" in said
    assert any(word in said for word in ("Fundamentals 2017", "Reda and Andreas", "source"))


def test_they_are_all_there():
    assert len(FUNCTIONS) >= 22
