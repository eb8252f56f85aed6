"""Low dew points and the floor of the coil surface: the statement, its hours, what is lost."""

from dataclasses import replace

import numpy as np
import pytest
from former_premises import former_text

from dewledger.analysis.low_dew_points import LOWEST_DEW_POINT_C, drying_bounds
from dewledger.assembly.machine import assemble
from dewledger.assembly.reheat import floor_in_reheat
from dewledger.case.files import case_from_text
from dewledger.hourly.ledger import INDEX
from dewledger.study import read_weather, solve_option


@pytest.fixture(scope="module")
def weather():
    return read_weather(case_from_text(former_text("archive")))


def archive(weather, limit, **unit):
    """The bundled archive with another dew point limit; its machine and year."""
    text = former_text("archive").replace('limit = "7.5 degC"', f'limit = "{limit}"')
    text = text.replace("[unit]\n", "[unit]\n" + "".join(f"{k} = {v}\n" for k, v in unit.items()))
    case = case_from_text(text)
    option = next(o for o in case.option_cases() if o.key == "condenser")
    machine = assemble(option, weather)
    return machine, solve_option(machine)


@pytest.mark.published
def test_a_dew_point_below_35_F_is_beyond_cooling(weather):
    """ASHRAE Handbook, HVAC Systems and Equipment 2016, chapter 25: below about 35 F."""
    assert pytest.approx((35.0 - 32.0) / 1.8) == LOWEST_DEW_POINT_C
    machine, ledger = archive(weather, "28 degF")
    found = drying_bounds(ledger, machine)
    assert found.another_technology
    assert found.limit_dew_point_C == pytest.approx((28.0 - 32.0) / 1.8, abs=0.01)
    # By hand from the ledger: calls whose room ends above 28 F dew point.
    called = ledger[INDEX["moisture_call_flag"]] > 0.0
    assert found.hours_called_low == called.sum()
    assert 1000 < found.hours_not_met_low <= found.hours_called_low
    reported = " ".join(found.sentences("I-P"))
    assert "A desiccant dehumidifier or other low-dew-point method is needed" in reported
    assert f"{found.hours_not_met_low:,} of them end above the limit" in reported
    assert "35 °F" in reported
    # A room of just 35 F is such a room: the air that dries it must be drier still.
    machine, ledger = archive(weather, "35 degF")
    found = drying_bounds(ledger, machine)
    assert found.hours_called_low == (ledger[INDEX["moisture_call_flag"]] > 0.0).sum() > 0
    assert "a desiccant dehumidifier" in " ".join(found.sentences("I-P")).lower()


def test_a_mild_limit_says_nothing(weather):
    found = drying_bounds(*reversed(archive(weather, "7.5 degC")))
    assert not found.another_technology
    assert found.hours_called_low == 0
    assert found.floor_hours == 0
    assert found.sentences("SI") == ()


def test_capacity_lost_to_the_surface_floor(weather):
    """With a floor of 6 C: every floored hour has its surface there, and loses capacity."""
    machine, ledger = archive(weather, "5 degC", surface_floor='"6 degC"')
    found = drying_bounds(ledger, machine)
    floored = ledger[INDEX["surface_floor_flag"]] > 0.0
    assert found.floor_hours == floored.sum() > 100
    assert ledger[INDEX["surface_temp_C"]][floored] == pytest.approx(6.0, abs=0.3)
    assert found.floor_hours_not_met > 0
    assert found.another_technology
    assert 0.0 < found.floor_lost_share < 1.0
    given = ledger[INDEX["cooling_total_kWh"]][floored].sum()
    # Lost and given are parts of what could have been.
    could = found.floor_lost_kWh / found.floor_lost_share
    assert found.floor_lost_kWh + given == pytest.approx(could, rel=0.05)
    reported = " ".join(found.sentences("SI"))
    assert f"{found.floor_hours:,} hours" in reported
    assert "frost" in reported


def test_ceiling_is_a_finding(weather):
    machine, _ = archive(weather, "7.5 degC")
    # The floor is the ceiling and the coil poor: the condenser cannot give all that is asked.
    plant = machine.plant._replace(
        recovery_effectiveness=0.15, condensing_ceiling_C=floor_in_reheat(machine.plant)
    )
    ledger = solve_option(replace(machine, plant=plant))
    found = drying_bounds(ledger, replace(machine, plant=plant))
    short = ledger[INDEX["reheat_short_flag"]] > 0.0
    assert found.ceiling_hours > 0
    assert found.ceiling_hours <= int(short.sum())
    assert "condensing ceiling" in " ".join(found.sentences("SI"))
    assert np.isfinite(found.floor_lost_kWh)
