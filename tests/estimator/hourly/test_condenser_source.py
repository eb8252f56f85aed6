"""Controls of a condenser source, and the condensing temperature in hours with reheat."""

import numpy as np
import pytest

from dewledger.accounts.energy import column
from dewledger.assembly.machine import assemble
from dewledger.case import bundled_case
from dewledger.dx_unit.types import ON_OFF, UNRESTRICTED
from dewledger.hourly.ledger import empty_ledger
from dewledger.hourly.types import RELATIVE_HUMIDITY
from dewledger.hourly.year import solve_year
from dewledger.study import read_weather, solve_option


@pytest.fixture
def solve(rig, hours, kept, rated_unit):
    """The mild humid hour of a rated unit with condenser heat, controls changed."""

    def solved(outdoor_C=22.0, sources=("condenser", "electric"), **controls):
        machine = rig(
            unit=rated_unit,
            sources=tuple(kept[name] for name in sources),
            humidity_control=RELATIVE_HUMIDITY,
            condenser_source=UNRESTRICTED._replace(**controls),
        )
        return machine.solve(hours(outdoor_temp_C=outdoor_C), warm_up=20)

    return solved


def test_reheat_has_its_own_floor(solve):
    """Raised from 32 to 42 C the condensing temperature stands there, the penalty is dearer, and
    it is counted against the hour at the ordinary floor."""
    plain, raised = solve(), solve(floor_C=42.0)
    assert plain["reheat_recovered_kWh"][-1] > 0.0
    assert plain["condensing_temp_C"][-1] < 41.0
    assert raised["condensing_temp_C"][-1] == pytest.approx(42.0, abs=1e-4)
    # The hour without recovery is the same for both: what the floor takes is all in the penalty.
    more = raised["compressor_kWh"][-1] - plain["compressor_kWh"][-1]
    assert more > 0.0
    dearer = raised["recovery_penalty_kWh"][-1] - plain["recovery_penalty_kWh"][-1]
    assert dearer == pytest.approx(more, rel=0.05)


@pytest.mark.parametrize("controls", [{"lockout_below_C": 25.0}, {"lockout_above_C": 20.0}])
def test_locked_out_nothing_is_recovered(solve, controls):
    found = solve(**controls)
    assert found["reheat_recovered_kWh"][-1] == 0.0
    assert found["reheat_lockout_flag"][-1] == 1.0
    assert found["reheat_purchased_kWh"][-1] == pytest.approx(found["overcooling_heat_kWh"][-1])
    assert found["condensing_temp_C"][-1] >= 32.0


def test_circuits_share_the_heat(solve):
    """One circuit in ten with reheat gives at most a tenth of the heat rejected."""
    found = solve(circuits=0.1)
    rejected = found["cooling_total_kWh"][-1] + found["compressor_kWh"][-1]
    assert found["reheat_recovered_kWh"][-1] == pytest.approx(0.1 * rejected, rel=1e-6)
    assert found["reheat_circuits_flag"][-1] == 1.0


def test_valve_has_a_range(solve):
    found = solve(valve_high=0.1)
    rejected = found["cooling_total_kWh"][-1] + found["compressor_kWh"][-1]
    assert found["reheat_recovered_kWh"][-1] == pytest.approx(0.1 * rejected, rel=1e-6)
    assert found["reheat_valve_flag"][-1] == 1.0
    held = solve(valve_low=0.95)
    assert held["reheat_valve_flag"][-1] == 1.0
    assert held["condensing_temp_C"][-1] >= solve()["condensing_temp_C"][-1]


def test_purge_takes_its_time(solve):
    """Where the circuits leave no margin, three minutes an hour take a twentieth of the heat."""
    whole, purged = solve(circuits=0.1), solve(circuits=0.1, purge_share=0.05)
    share = purged["reheat_recovered_kWh"] / (
        purged["cooling_total_kWh"] + purged["compressor_kWh"]
    )
    assert share[-1] == pytest.approx(0.095, rel=1e-6)
    assert purged["reheat_purge_flag"][-1] == 1.0
    assert whole["reheat_purge_flag"][-1] == 0.0


def test_fewer_outdoor_fans_raise_the_condensing_temperature(solve):
    plain, fewer = solve(outdoor_C=30.0), solve(outdoor_C=30.0, fan_share=0.4)
    assert fewer["condensing_temp_C"][-1] > plain["condensing_temp_C"][-1]
    assert fewer["reheat_fans_flag"][-1] == 1.0
    assert fewer["condenser_fan_kWh"][-1] < plain["condenser_fan_kWh"][-1]
    assert np.isfinite(fewer["recovery_penalty_kWh"][-1])


def test_the_minimum_of_reheat_holds_in_hours_with_reheat_alone():
    """105 °F where condenser heat is given, 96 °F in a call that overcools nothing."""
    case = bundled_case("rooftop")
    option = next(one for one in case.option_cases() if one.key == "condenser")
    machine = assemble(option, read_weather(case))
    ledger = solve_option(machine)
    call = (column(ledger, "moisture_call_flag") > 0) & (
        column(ledger, "compressor_runtime_frac") > 0.0
    )
    recovered = column(ledger, "reheat_recovered_kWh")
    condensing = column(ledger, "condensing_temp_C")
    ordinary, reheat = (96.0 - 32.0) / 1.8, (105.0 - 32.0) / 1.8
    without = call & (recovered == 0.0)
    assert (recovered > 0.0).sum() > 2000
    assert condensing[recovered > 0.0].min() >= reheat - 1e-3
    assert (condensing[without] < reheat - 1.0).sum() > 500
    assert condensing[without].min() == pytest.approx(ordinary, abs=1e-3)
    assert (column(ledger, "recovery_penalty_kWh")[without] == 0.0).all()


def test_dry_outdoor_air_after_a_call_needs_no_drying(rig, hours, kept, rated_unit):
    """Ten damp hours with calls, then one whose outdoor air alone dries the room below its limit,
    the coil dry: no call, nothing overcooled, whatever the hour before was."""
    changing = np.where(np.arange(11) < 10, 0.015, 0.0005)
    drivers = hours(
        11, outdoor_hum_ratio_kg_kg=changing, outdoor_air_kg_s=0.6, gains_sensible_W=6000.0
    )
    machine = rig(
        unit=rated_unit,
        sources=(kept["condenser"], kept["electric"]),
        humidity_control=RELATIVE_HUMIDITY,
        moisture_store_kg=300.0,
    )
    unit, plant, *rest = machine.arguments(drivers)
    ledger = empty_ledger(11)
    solve_year(unit, plant._replace(arrangement=ON_OFF), *rest, ledger)
    assert column(ledger, "moisture_call_flag").tolist() == [1.0] * 10 + [0.0]
    assert column(ledger, "overcooling_heat_kWh")[-1] == 0.0
    assert column(ledger, "room_rh_frac")[-1] < 0.5
    assert column(ledger, "room_temp_C")[-1] == pytest.approx(23.0, abs=1e-6)
