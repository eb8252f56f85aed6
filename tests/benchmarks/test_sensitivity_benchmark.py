"""Ten thousand option-years drawn together, on all cores: how many a second."""

import time

import pytest
from former_premises import former_case

from dewledger.analysis.monte_carlo import cores
from dewledger.analysis.sensitivity import sensitivity_study
from dewledger.assembly.short_year import short_ledger
from dewledger.study import read_weather


@pytest.mark.benchmark
def test_ten_thousand_option_years(capsys):
    case = former_case("music-school")
    year = read_weather(case)
    sensitivity_study(case, [year], short_ledger, draws=2)
    began = time.perf_counter()
    found = sensitivity_study(case, [year], short_ledger, draws=2000)
    seconds = time.perf_counter() - began
    with capsys.disabled():
        print(
            f"\n{found.option_years:,} option-years in {seconds:.1f} s on {cores()} cores: "
            f"{found.option_years / seconds:.0f} a second"
        )
    assert len(found.draws.values) == 2000
