"""The short year of draws is the year of the account."""

import pytest

from dewledger.accounts.energy import column, electricity_kW, gas_kW
from dewledger.assembly.machine import assemble
from dewledger.assembly.short_year import solve_short
from dewledger.case import bundled_case
from dewledger.study import read_weather, solve_option


@pytest.mark.parametrize("kind", ["rooftop", "clinic"])
def test_energy_and_room_are_those_of_the_whole_ledger(kind):
    case = bundled_case(kind)
    year = read_weather(case)
    for option in case.option_cases():
        machine = assemble(option, year)
        whole, short = solve_option(machine), solve_short(machine)
        # Two programs may fuse the same sum in two ways, and end a search one look apart.
        assert short["electricity_kWh"] == pytest.approx(electricity_kW(whole), abs=1e-6)
        assert short["gas_kWh"] == pytest.approx(gas_kW(whole), abs=1e-6)
        for name in ("room_rh_frac", "room_temp_C", "reheat_recovered_kWh"):
            assert short[name] == pytest.approx(column(whole, name), abs=1e-6)
