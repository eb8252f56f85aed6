"""Random cases, written as a user writes them: every hour closes and stays physical.

Each seed draws a room, its air, a unit, a control and reheat, valid together, and two weeks of a
bundled station's summer and winter. `DEWLEDGER_RANDOM_CASES=500 pytest ...` draws more of them, and
`DEWLEDGER_RANDOM_YEARS=1000 pytest ...` more whole years.
"""

import os
from dataclasses import replace

import numpy as np
import pytest
from random_cases import drawn

from dewledger.accounts.energy import column
from dewledger.assembly.machine import assemble
from dewledger.case import case_from_text
from dewledger.dx_unit.types import MODULATING
from dewledger.hourly.ledger import INDEX, NAMES
from dewledger.hourly.types import DEW_POINT, DRIVERS, NO_CONTROL, RELATIVE_HUMIDITY
from dewledger.study import read_weather, solve_option
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import saturation_hum_ratio

# The first ones, and those that once had an hour open: between two minimum condensing temperatures,
# or running for what rounding left of a need.
SEEDS = sorted(
    {*range(int(os.environ.get("DEWLEDGER_RANDOM_CASES", "40"))), 1038, 1568, 1651, 2408}
)
# The first ones, and some in which an hour once ended with a running time below 0 or above 1, or
# open as above.
YEARS = sorted(
    {
        *range(int(os.environ.get("DEWLEDGER_RANDOM_YEARS", "3"))),
        130,
        260,
        635,
        688,
        1068,
        1121,
        1156,
    }
)
WEEKS = np.r_[24 * 14 : 24 * 21, 24 * 195 : 24 * 202]
HEATS = (
    "gains_sensible_kWh", "solar_gains_kWh", "envelope_kWh", "ventilation_sensible_kWh",
    "heat_stored_kWh", "cooling_total_kWh", "supply_fan_kWh", "reheat_coil_fan_kWh", "heating_kWh",
    "overcooling_heat_kWh", "room_cooling_kWh", "surface_condensation_heat_kWh",
)  # fmt: skip
WATERS = (
    "gains_moisture_kg", "outdoor_moisture_kg", "moisture_stored_kg", "condensate_kg",
    "surface_condensation_kg",
)  # fmt: skip


# Columns that have no value in an hour without air or without the compressor.
NONE_WHEN_STOPPED = {
    "mixed_temp_C", "mixed_hum_ratio_kg_kg", "coil_leaving_temp_C", "coil_leaving_hum_ratio_kg_kg",
    "supply_temp_C", "supply_hum_ratio_kg_kg", "supply_flow_kg_s", "surface_temp_C",
    "suction_temp_C", "condensing_temp_C", "capacity_frac",
}  # fmt: skip


@pytest.fixture(scope="module")
def years():
    """Weather years by station, read once."""
    return {}


def machine_of(seed, years):
    case = case_from_text(drawn(seed))
    station = case.site.weather
    if station not in years:
        years[station] = read_weather(case)
    return assemble(case.option_cases()[0], years[station])


def solved(machine, **options):
    """The ledger; None where the room is said to be one that no building can be."""
    try:
        return solve_option(machine, **options)
    except InputError as refused:
        if "outside -40 to 60 C" not in str(refused):
            raise
        return None


@pytest.mark.parametrize("seed", SEEDS)
def test_every_hour_closes(seed, years):
    machine = machine_of(seed, years)
    machine = replace(machine, drivers=np.ascontiguousarray(machine.drivers[WEEKS]))
    ledger = solved(machine, warm_up_hours=0)
    if ledger is not None:
        assert_sound(machine, ledger)


@pytest.mark.parametrize("seed", YEARS)
def test_every_hour_of_a_year_closes(seed, years):
    machine = machine_of(10_000 + seed, years)
    ledger = solved(machine)
    if ledger is not None:
        unknown = {name for name in NAMES if not np.isfinite(ledger[INDEX[name]]).all()}
        assert unknown <= NONE_WHEN_STOPPED
        assert_sound(machine, ledger)


def assert_sound(machine, ledger):
    """Heat and water within 1e-6 of the hour's flows, refrigerant within 1e-6 of what is rejected,
    the identity of reheat, limits and signs."""

    def of(name):
        return column(ledger, name)

    heat = 1000.0 * sum(np.abs(of(name)) for name in HEATS)
    water = sum(np.abs(of(name)) for name in WATERS)
    rejected = 1000.0 * (of("cooling_total_kWh") + of("compressor_kWh"))
    assert (np.abs(of("heat_closure_W")) <= 1e-6 * heat + 1e-6).all()
    assert (np.abs(of("water_closure_kg_h")) <= 1e-6 * water + 1e-9).all()
    assert (np.abs(of("refrigerant_closure_W")) <= 1e-6 * np.maximum(rejected, 1.0)).all()
    assert (of("room_rh_frac") <= 1.0 + 1e-6).all()
    overcooling = of("overcooling_heat_kWh")
    recovered, purchased = of("reheat_recovered_kWh"), of("reheat_purchased_kWh")
    short = of("reheat_unmet_kWh")
    assert overcooling == pytest.approx(recovered + purchased + short, rel=1e-12, abs=1e-12)
    for values in (overcooling, recovered, purchased, short + 1e-7, of("compressor_kWh"),
                   of("condensate_kg") + 1e-5, of("heating_kWh"), of("fan_runtime_frac"),
                   1.0 + 1e-9 - of("fan_runtime_frac"), of("compressor_runtime_frac"),
                   1.0 + 1e-9 - of("compressor_runtime_frac")):  # fmt: skip
        assert (values >= 0.0).all()
    running = of("compressor_runtime_frac") > 0.0
    condensing = of("condensing_temp_C")[running]
    assert (condensing >= machine.plant.condensing_floor_C - 1e-3).all()
    assert (condensing >= of("outdoor_temp_C")[running] - 1e-3).all()
    plant = machine.plant
    if plant.arrangement == MODULATING:
        with_heat = condensing[recovered[running] > 0.0]
        floor = max(plant.condensing_floor_C, plant.condenser_source.floor_C)
        assert (with_heat >= floor - 1e-3).all()
    if machine.control.humidity_control == NO_CONTROL:
        assert not overcooling.any() or machine.control.outdoor_air_unit.used == 1
    held = (of("moisture_call_flag") > 0) & (of("full_capacity_flag") == 0)
    held &= of("reheat_short_flag") == 0
    limit = machine.drivers[:, DRIVERS.index("humidity_limit")]
    if machine.control.humidity_control == DEW_POINT:
        pressure = machine.drivers[:, DRIVERS.index("pressure_Pa")]
        pairs = zip(limit[held], pressure[held], strict=True)
        allowed = np.array([saturation_hum_ratio(*pair) for pair in pairs])
        assert (of("room_hum_ratio_kg_kg")[held] <= allowed * (1.0 + 1e-4)).all()
    if machine.control.humidity_control == RELATIVE_HUMIDITY:
        assert (of("room_rh_frac")[held] <= limit[held] + 1e-4).all()
        # A stage that runs on where it just stopped dries more than it must, and overcools nothing.
        held &= overcooling > 1e-3 * of("cooling_sensible_kWh")
        assert of("room_rh_frac")[held] == pytest.approx(limit[held], abs=1e-4)
