"""Refrigerant tables: those of the package, those computed, their store on disk."""

import hashlib
import io
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import dewledger.components.refrigerant_tables as tables
from dewledger.components.refrigerant_cycle import cycle
from dewledger.components.refrigerant_tables import (
    CONDENSING_GRID_C,
    SUCTION_GRID_C,
    RefrigerantTable,
    compression,
    refrigerant_table,
    volumetric_efficiency,
)
from dewledger.components.refrigerants import REFRIGERANTS
from dewledger.weather.numerics.kept_files import kept


@pytest.mark.parametrize("name", list(REFRIGERANTS))
@pytest.mark.parametrize("superheat", [0.0, 5.5, 15.0])
def test_tables_are_whole_and_smooth(name: str, superheat: float) -> None:
    table = refrigerant_table(name, superheat, 5.0)
    for values in (table.suction_pressure, table.suction_density):
        assert values.shape == SUCTION_GRID_C.shape
        assert (np.diff(values) > 0.0).all()
    assert (np.diff(table.condensing_pressure) > 0.0).all()
    assert (np.diff(table.liquid_enthalpy) > 0.0).all()
    assert (np.diff(table.isentropic_work, axis=1) > 0.0).all()
    assert (np.diff(table.isentropic_work, axis=0) < 0.0).all()
    # No kink where the mixture's states had to be found from their neighbors: the third
    # difference of the logarithm of a saturation pressure is tiny and so is that of the others.
    for values in (np.log(table.condensing_pressure), table.liquid_enthalpy / 1e5):
        assert np.abs(np.diff(values, n=3)).max() < 2e-3


@pytest.mark.parametrize("name", list(REFRIGERANTS))
def test_interpolation_between_nodes_equals_the_library(name: str) -> None:
    table = refrigerant_table(name)
    for suction, condensing in ((6.1, 43.9), (-3.7, 51.3), (14.4, 36.2)):
        state = compression(table, np.array([suction]), np.array([condensing]))
        exact = cycle(name, suction, condensing, isentropic=1.0)
        h1, h2, h3, _ = exact.enthalpies_J_kg
        assert float(state.isentropic_work[0]) == pytest.approx(h2 - h1, rel=2e-5)
        assert float(state.refrigerating_effect[0]) == pytest.approx(h1 - h3, rel=2e-5)
        ratio = exact.condensing_pressure_Pa / exact.suction_pressure_Pa
        assert float(state.pressure_ratio[0]) == pytest.approx(ratio, rel=2e-5)


def test_volumetric_efficiency() -> None:
    # c = 0.05, n = 1, r = 3: 1 + 0.05 - 0.15.
    assert volumetric_efficiency(np.array([3.0]), 0.05, 1.0)[0] == pytest.approx(0.90)
    assert volumetric_efficiency(np.array([1.0]), 0.05, 1.2)[0] == pytest.approx(1.0)


def test_table_is_kept_on_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables, "cache_folder", lambda name: tmp_path)
    refrigerant_table.cache_clear()
    try:
        first = refrigerant_table("R-32", 5.0, 4.0)
        (stored,) = tmp_path.iterdir()
        assert "superheat5.0000-subcooling4.0000" in stored.name
        refrigerant_table.cache_clear()
        with monkeypatch.context() as patched:
            patched.setattr(tables, "_compute", _refuse)
            second = refrigerant_table("R-32", 5.0, 4.0)
        assert np.array_equal(first.isentropic_work, second.isentropic_work)
        # A damaged file is made again; so is one whose arrays cannot be a table's.
        whole = stored.read_bytes()
        arrays = dict(np.load(io.BytesIO(kept(stored) or b"")))
        short = arrays | {"suction_density": arrays["suction_density"][:-1]}
        bad = arrays | {"isentropic_work": np.full_like(first.isentropic_work, np.nan)}
        missing = {name: array for name, array in arrays.items() if name != "liquid_enthalpy"}
        changed = [{name: change(array) for name, array in arrays.items()} for change in (
            lambda array: array.astype("U8"), lambda array: array.astype(complex),
            lambda array: array[:0], lambda array: array + np.inf,
        )]  # fmt: skip
        grids = {name: array[:-1] if "grid" in name else array for name, array in arrays.items()}
        made = [_as_kept(one) for one in (short, bad, missing, {}, grids, *changed)]
        for damage in (b"", whole[:100], whole[32:], *made, os.mkdir, os.mkfifo):
            stored.unlink()
            if isinstance(damage, bytes):
                stored.write_bytes(damage)
            else:
                damage(stored)
            refrigerant_table.cache_clear()
            third = refrigerant_table("R-32", 5.0, 4.0)
            assert np.array_equal(first.isentropic_work, third.isentropic_work)
            assert np.array_equal(first.suction_density, third.suction_density)
            assert stored.read_bytes()[:32] == whole[:32]
    finally:
        refrigerant_table.cache_clear()


def _as_kept(arrays: dict[str, Any]) -> bytes:
    file = io.BytesIO()
    np.savez(file, **arrays)
    return hashlib.sha256(file.getvalue()).digest() + file.getvalue()


def _refuse(*_: object) -> RefrigerantTable:
    raise AssertionError("computed again although stored")


def test_grid_covers_the_map() -> None:
    assert SUCTION_GRID_C[0] == -30.0
    assert SUCTION_GRID_C[-1] == 30.0
    assert CONDENSING_GRID_C[0] == 10.0
    assert CONDENSING_GRID_C[-1] == 65.0


def test_tables_of_the_package_are_those_that_coolprop_gives() -> None:
    """Source: CoolProp itself, asked anew; a number that was edited by hand does not stand.

    The version that made the file is met to the rounding of another processor, others to what the
    equations of a refrigerant have been seen to be revised by.
    """
    found = json.loads(tables.SHIPPED.read_text(encoding="utf-8"))
    made = json.loads(tables.shipped_text())
    close = 1e-10 if made["coolprop"] == found.pop("coolprop") else 1e-4
    del made["coolprop"]
    shipped, computed = found.pop("tables"), made.pop("tables")
    assert found == made, "run python -m dewledger.components.refrigerant_tables"
    assert list(shipped) == list(computed) == list(REFRIGERANTS)
    for name, arrays in computed.items():
        assert list(shipped[name]) == list(arrays)
        for quantity, values in arrays.items():
            there = np.array(shipped[name][quantity])
            np.testing.assert_allclose(there, np.array(values), rtol=close, err_msg=name)


def test_tables_of_the_package_serve_their_settings_alone() -> None:
    """Rounded to a ten-thousandth of a kelvin, as the name of a kept table is."""
    refrigerant = REFRIGERANTS["R-22"]
    of_the_package = tables._shipped(refrigerant, 10.0 / 1.8, 5.55556)
    assert of_the_package is not None
    assert len(of_the_package) == len(tables._ARRAYS)
    assert tables._shipped(refrigerant, 10.0 / 1.8, 5.6) is None
    assert tables._shipped(refrigerant, 0.0, 10.0 / 1.8) is None
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(tables, "SUCTION_GRID_C", SUCTION_GRID_C[:-1])
        assert tables._shipped(refrigerant, 10.0 / 1.8, 10.0 / 1.8) is None


_UNITS_AND_A_YEAR = """
import sys
from dewledger import quantities
from dewledger.assembly import kept_units
from dewledger.assembly.machine import assemble
from dewledger.case import bundled_case, starter_kinds
from dewledger.components import refrigerant_tables
from dewledger.study import read_weather, solve_option
for module in (kept_units, quantities, refrigerant_tables):
    module.cache_folder = lambda name: None
for kind in starter_kinds():
    case = bundled_case(kind)
    weather = read_weather(case)
    machines = [assemble(option, weather) for option in case.option_cases()]
    if kind == "music-school":
        solve_option(machines[0])
print([name for name in ("CoolProp", "pint") if name in sys.modules])
"""


def test_units_of_every_bundled_case_and_the_first_year_of_the_demo_need_no_library() -> None:
    """No states of refrigerants, no units of quantities: all is in the package. Nothing is taken
    from the store on disk, as on a machine that has never run it."""
    said = subprocess.run(
        [sys.executable, "-c", _UNITS_AND_A_YEAR], capture_output=True, text=True, timeout=600
    )
    assert said.stdout.split() == ["[]"], said.stderr
