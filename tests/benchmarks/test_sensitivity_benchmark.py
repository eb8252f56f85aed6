"""Option-years drawn together, on all cores: how many a second, and what one takes."""

import os
import time

import pytest
from former_premises import former_text, on_former_premises

from dewledger.analysis.monte_carlo import cores
from dewledger.analysis.sensitivity import sensitivity_study
from dewledger.assembly.short_year import short_ledger
from dewledger.case.files import bundled_text, case_from_text
from dewledger.study import read_weather

CASES = {
    "frozen": lambda: on_former_premises(former_text("music-school")),
    "own premises": lambda: former_text("music-school"),
    "demo": lambda: bundled_text("music-school"),
}


@pytest.mark.benchmark
@pytest.mark.parametrize("premises", CASES)
def test_thousands_of_option_years(premises, capsys):
    """By the clock with whatever else runs, and in processor time."""
    case = case_from_text(CASES[premises]())
    year = read_weather(case)
    sensitivity_study(case, [year], short_ledger, draws=2)
    began, spent = time.perf_counter(), time.process_time()
    found = sensitivity_study(case, [year], short_ledger, draws=500)
    seconds, spent = time.perf_counter() - began, time.process_time() - spent
    with capsys.disabled():
        print(
            f"\n{premises} (load {os.getloadavg()[0]:.1f}): {found.option_years:,} option-years "
            f"in {seconds:.1f} s on {cores()} cores, {found.option_years / seconds:.0f} a second; "
            f"{1000.0 * spent / found.option_years:.1f} ms of processor time each"
        )
    assert len(found.draws.values) == 500
