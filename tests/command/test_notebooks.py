"""The notebooks and the script of the docs run as they stand, and say what they should."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

NOTEBOOKS = Path(__file__).parents[2] / "docs" / "notebooks"
SAYS = {
    "savings_for_a_memo.py": ("Condenser heat saves", "USD a year", "most purchased reheat in"),
    "what_a_code_committee_asks.py": ("dehumidification call", "size"),
    "three_sites.py": ("greensboro", "miami", "condenser"),
}
LEAVES = {
    "savings_for_a_memo.py": ("memo/overview.png", "memo/reheat-origin.png"),
    "what_a_code_committee_asks.py": ("committee/annual.csv", "committee/humidity-map.png"),
    "three_sites.py": ("three-sites/annual.csv",),
}


def test_none_is_left_out():
    assert {path.name for path in NOTEBOOKS.glob("*.py")} == set(SAYS)


@pytest.mark.parametrize("name", SAYS)
def test_it_runs_as_it_stands(name, tmp_path):
    shutil.copy(NOTEBOOKS / name, tmp_path)
    done = subprocess.run(
        [sys.executable, "-W", "error", name],
        capture_output=True, text=True, cwd=tmp_path, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    for words in SAYS[name]:
        assert words in done.stdout, done.stdout
    for left in LEAVES[name]:
        assert (tmp_path / left).stat().st_size > 0


def test_the_analysts_script_is_short():
    lines = (NOTEBOOKS / "three_sites.py").read_text(encoding="utf-8").splitlines()
    code = [line for line in lines if line.strip() and not line.startswith('"""')]
    assert len(code) <= 12
