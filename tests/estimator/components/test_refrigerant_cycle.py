"""Refrigerant tables, their store on disk, cycles."""

import hashlib
import io
import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import dewledger.components.refrigerant_cycle as refrigeration
from dewledger.components.refrigerant_cycle import (
    CONDENSING_GRID_C,
    REFRIGERANTS,
    SUCTION_GRID_C,
    RefrigerantTable,
    compression,
    cycle,
    refrigerant_named,
    refrigerant_table,
    volumetric_efficiency,
)
from dewledger.weather.errors import InputError
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


def test_mixture_in_its_failing_bands() -> None:
    """R-454B between 55 and 65 C: neighboring states keep everything in one line."""
    condensing = np.arange(54.0, 65.1, 0.25)
    found = [cycle("R-454B", 7.2, float(at)) for at in condensing]
    cop = np.array([one.cop for one in found])
    pressure = np.log([one.condensing_pressure_Pa for one in found])
    glide = np.array([one.condensing_dew_C - one.condensing_bubble_C for one in found])
    assert np.abs(np.diff(cop, n=2)).max() < 2e-3
    assert np.abs(np.diff(pressure, n=2)).max() < 2e-5
    assert np.abs(np.diff(glide, n=2)).max() < 2e-3
    assert ((glide > 0.5) & (glide < 1.6)).all()


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


@pytest.mark.parametrize("name", list(REFRIGERANTS))
def test_cycle_closes(name: str) -> None:
    one = cycle(name, 7.2, 48.9, 5.6, 5.6, 0.7)
    assert one.rejection_ratio == pytest.approx(1.0 + 1.0 / one.cop, rel=1e-9)
    shares = one.desuperheating_share + one.condensing_share + one.subcooling_share
    assert shares == pytest.approx(1.0, rel=1e-9)
    h1, h2, h3, h4 = one.enthalpies_J_kg
    assert h3 == h4
    assert one.flow_kg_s_W * (h1 - h4) == pytest.approx(1.0)
    assert one.discharge_temp_C > cycle(name, 7.2, 48.9, 5.6, 5.6, 1.0).discharge_temp_C
    assert h2 > h1


def test_table_is_kept_on_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(refrigeration, "cache_folder", lambda name: tmp_path)
    refrigerant_table.cache_clear()
    try:
        first = refrigerant_table("R-32", 5.0, 4.0)
        (stored,) = tmp_path.iterdir()
        assert "superheat5.0000-subcooling4.0000" in stored.name
        refrigerant_table.cache_clear()
        with monkeypatch.context() as patched:
            patched.setattr(refrigeration, "_compute", _refuse)
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


def test_cycle_is_kept_on_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is read back is what was computed, to the bit; a damaged file is computed anew."""
    monkeypatch.setattr(refrigeration, "cache_folder", lambda name: tmp_path)
    cycle.cache_clear()
    computed = cycle("R-410A", 7.2, 48.9, 11.1, 8.3, isentropic=0.68)
    (path,) = tmp_path.iterdir()

    def again() -> refrigeration.Cycle:
        cycle.cache_clear()
        return cycle("R-410A", 7.2, 48.9, 11.1, 8.3, isentropic=0.68)

    with monkeypatch.context() as without:
        without.setattr(refrigeration, "_cycle", lambda *_: pytest.fail("computed again"))
        assert again() == computed
    path.write_bytes(path.read_bytes()[:-3])
    assert again() == computed
    cycle.cache_clear()


def test_names() -> None:
    assert refrigerant_named("r410a").name == "R-410A"
    with pytest.raises(InputError, match="write one of R-410A"):
        refrigerant_named("water")


def test_grid_covers_the_map() -> None:
    assert SUCTION_GRID_C[0] == -30.0
    assert SUCTION_GRID_C[-1] == 30.0
    assert CONDENSING_GRID_C[0] == 10.0
    assert CONDENSING_GRID_C[-1] == 65.0


@pytest.mark.parametrize("condensing_F", np.arange(133.0, 148.1, 0.5))
def test_mixture_cycle_where_the_library_has_no_solution(condensing_F: float) -> None:
    """R-454B fails in bands near 135 to 145 F: the cycle goes on smoothly through them."""
    found = cycle("R-454B", 7.0, (condensing_F - 32.0) / 1.8)
    near = [cycle("R-454B", 7.0, (condensing_F + d - 32.0) / 1.8).cop for d in (-3.0, 3.0)]
    assert near[1] < found.cop < near[0]
    assert found.cop == pytest.approx(sum(near) / 2.0, rel=0.005)
