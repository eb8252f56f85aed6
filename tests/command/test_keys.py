"""``dewledger keys``: what may stand in a case; ``--version``; completion."""

import re
from importlib.metadata import version

from dewledger.case.reading.keys import key_tables


def test_every_table_is_listed(dewledger):
    said = dewledger("keys")
    assert said.code == 0
    for table in key_tables().values():
        assert table.head in said.out


def test_every_key_of_a_table(dewledger):
    said = dewledger("keys", "unit")
    assert said.code == 0
    for key in key_tables()["unit"].keys:
        assert re.search(rf"^{key.name}: ", said.out, re.MULTILINE)
    assert "total_capacity: kBtu/h or kW (no default)" in said.out
    assert dewledger("keys", "[[reheat]]").out == dewledger("keys", "reheat").out
    # A key leads to its table.
    assert dewledger("keys", "supply_flow").out == dewledger("keys", "air").out


def test_a_table_that_is_none(dewledger):
    said = dewledger("keys", "humdity")
    assert said.code == 2
    assert 'did you mean "humidity"?' in said.err
    assert said.err.count("\n") == 1


def test_version(dewledger):
    said = dewledger("--version")
    assert said.code == 0
    assert said.out == f"dewledger {version('dewledger')}\n"


def test_completion_can_be_shown(dewledger, monkeypatch):
    assert "--install-completion" in dewledger("--help").out
