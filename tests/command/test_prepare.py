"""The verb that compiles ahead."""

from dewledger.weather.numerics import compiled


def test_prepare_solves_bundled_cases(dewledger, monkeypatch):
    monkeypatch.setattr("dewledger.case.starter_kinds", lambda: {"rooftop": "one will do here"})
    said = dewledger("prepare")
    assert said.code == 0, said.err
    assert "ready" in said.out


def test_nothing_can_be_prepared_without_a_folder(dewledger, monkeypatch):
    monkeypatch.setattr(compiled, "machine_code_folder", lambda: None)
    said = dewledger("prepare")
    assert said.code == 2
    assert "no folder" in said.err
