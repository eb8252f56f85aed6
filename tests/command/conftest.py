"""The command as a user runs it, in this process or in one of its own, and files to run it on."""

import subprocess
import sys
from dataclasses import dataclass

import numpy as np
import pytest

from dewledger.reports.command.app import main
from dewledger.weather.bundled import bundled_path


@dataclass(frozen=True)
class Said:
    """How the command ended and what it printed."""

    code: int
    out: str
    err: str


@pytest.fixture
def dewledger(monkeypatch, capsys):
    """Run the command in this process: dewledger("run", "hall.toml")."""

    def run(*arguments):
        monkeypatch.setattr(sys, "argv", ["dewledger", *map(str, arguments)])
        capsys.readouterr()
        try:
            main()
            code = 0
        except SystemExit as stop:
            code = stop.code or 0
        said = capsys.readouterr()
        return Said(code, said.out, said.err)

    return run


@pytest.fixture(scope="session")
def dewledger_process():
    """Run the command in a process of its own."""

    def run(*arguments, cwd=None, code="from dewledger.reports.command.app import main; main()"):
        done = subprocess.run(
            [sys.executable, "-c", code, *map(str, arguments)],
            capture_output=True, text=True, cwd=cwd, check=False,
        )  # fmt: skip
        return Said(done.returncode, done.stdout, done.stderr)

    return run


CASE = """
format = 2
title = "Print room"

[site]
weather = "greensboro"

[room]
floor_area = "100 m2"
height = "3 m"
conductance = "150 W/K"
cooling_setpoint = "23 degC"
heating_setpoint = "20 degC"

[loads.process]
sensible = "2 kW"
moisture = "1 kg/h"

[air]
supply_flow = "800 L/s"
outdoor_flow = "100 L/s"
fan_power = "400 W"

[unit]
rating = "gross"
total_capacity = "14 kW"
sensible_heat_ratio = "72 %"
efficiency = "3.4 COP"

[humidity]
control = "relative humidity"
limit = "55 %"

[options.electric]
title = "Electric reheat"
reheat = [{ source = "electric" }]

[options.condenser]
title = "Condenser heat"
reheat = [{ source = "condenser" }]
"""


@pytest.fixture
def case(tmp_path):
    """Write a small case, its text changed by pairs (old, new); gives its path."""

    def write(*changes):
        text = CASE
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        path = tmp_path / "print-room.toml"
        path.write_text(text)
        return path

    return write


def tmy3_lines():
    """Lines of the bundled Greensboro file."""
    path = bundled_path("greensboro")
    assert path is not None
    return path.read_text(encoding="utf-8").splitlines()


@pytest.fixture
def tmy3(tmp_path):
    """Write the bundled TMY3 file, its lines changed by a function; gives its path."""

    def write(change):
        path = tmp_path / "station.csv"
        path.write_text("\n".join(change(tmy3_lines())) + "\n")
        return path

    return write


@pytest.fixture
def plain(tmp_path):
    """Write a plain CSV of a year from columns of 8760 values; gives its path."""

    def write(**columns):
        path = tmp_path / "year.csv"
        values = np.column_stack([np.broadcast_to(v, 8760) for v in columns.values()])
        np.savetxt(path, values, fmt="%.4f", delimiter=",", header=",".join(columns), comments="")
        return path

    return write
