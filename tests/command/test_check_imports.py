"""What a quick verb loads: nothing that takes long and that it does not need."""

import subprocess
import sys

from dewledger.case.files import bundled_text

# Seconds together: tables, pictures, pages, splines, refrigerants, holidays of every country,
# units of quantities, and what numba needs to compile.
HEAVY = (
    "pandas", "pvlib.iotools", "matplotlib", "jinja2", "scipy.interpolate", "scipy.stats",
    "scipy.optimize", "CoolProp", "holidays", "pint", "requests", "numba.np.arraymath",
)  # fmt: skip
_RUN = f"""
import sys
from dewledger.reports.command.app import app
try:
    app(["check", sys.argv[1]], standalone_mode=False)
finally:
    print("loaded:", [name for name in {HEAVY} if name in sys.modules])
"""


def test_check_loads_nothing_that_it_does_not_need(tmp_path):
    """Once a case has been checked, what it took is kept: a second time needs none of it."""
    case = tmp_path / "case.toml"
    case.write_text(bundled_text("rooftop"))
    for _ in range(2):
        said = subprocess.run(
            [sys.executable, "-c", _RUN, str(case)], capture_output=True, text=True, timeout=600
        )
    assert "options on Greensboro" in said.stdout, said.stderr
    assert said.stdout.splitlines()[-1] == "loaded: []"


_DEMO = """
import sys
from dewledger.reports.command.app import app
try:
    app(["demo", "--out", sys.argv[1]], standalone_mode=False)
finally:
    print("loaded:", [name for name in ("pandas", "CoolProp") if name in sys.modules])
"""


def test_a_report_takes_no_frames_and_no_fluids(tmp_path):
    """Page and CSV are made of arrays, cycles of the refrigerant's table."""
    said = subprocess.run(
        [sys.executable, "-c", _DEMO, str(tmp_path / "demo")],
        capture_output=True, text=True, timeout=600,
    )  # fmt: skip
    assert "wrote" in said.stdout, said.stderr
    assert said.stdout.splitlines()[-1] == "loaded: []"
