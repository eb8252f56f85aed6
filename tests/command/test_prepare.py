"""The verb that compiles ahead."""

from dewledger.dx_unit.operate import operate
from dewledger.hourly.year import solve_rows, solve_short_rows
from dewledger.weather.numerics import compiled


def test_prepare_solves_bundled_cases(dewledger, monkeypatch):
    monkeypatch.setattr("dewledger.case.starter_kinds", lambda: {"rooftop": "one will do here"})
    said = dewledger("prepare")
    assert said.code == 0, said.err
    assert "ready" in said.out
    # The programs of the ledger, of draws and sweeps, of a unit looked at.
    assert all(compiled.is_kept(one) for one in (solve_rows, solve_short_rows, operate))


def test_nothing_can_be_prepared_without_a_folder(dewledger, monkeypatch):
    monkeypatch.setattr(compiled, "machine_code_folder", lambda: None)
    said = dewledger("prepare")
    assert said.code == 2
    assert "no folder" in said.err
