"""The verb that compiles ahead."""

from dewledger.components.cooling_coil import find_coil_leaving
from dewledger.hourly.year import solve_rows, solve_short_rows
from dewledger.weather.numerics import compiled
from dewledger.weather.physics.moist_air_arrays import find_dew_points, find_wet_bulbs


def test_prepare_solves_bundled_cases(dewledger, monkeypatch):
    monkeypatch.setattr("dewledger.case.starter_kinds", lambda: {"rooftop": "one will do here"})
    said = dewledger("prepare")
    assert said.code == 0, said.err
    assert "ready" in said.out
    # The programs of the ledger, of draws and sweeps, and those of moist air over arrays.
    programs = (solve_rows, solve_short_rows, find_dew_points, find_wet_bulbs, find_coil_leaving)
    assert all(compiled.is_kept(one) for one in programs)


def test_nothing_can_be_prepared_without_a_folder(dewledger, monkeypatch):
    monkeypatch.setattr(compiled, "machine_code_folder", lambda: None)
    said = dewledger("prepare")
    assert said.code == 2
    assert "no folder" in said.err
