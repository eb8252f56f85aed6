"""Small machines for the tests of the hour: a unit, its controls, a room, and hours to run."""

import os
from dataclasses import dataclass, field
from functools import cache

import numpy as np
import pytest
from hypothesis import settings
from hypothesis.internal.conjecture import providers

from dewledger.dx_unit.types import (
    AS_THERMOSTAT,
    CYCLING,
    LEAVING_AIR,
    UNRESTRICTED,
    CondenserSource,
    UnitMap,
)
from dewledger.hourly.ledger import INDEX, NAMES, empty_ledger
from dewledger.hourly.types import (
    CONDENSER,
    DRIVERS,
    ELECTRIC,
    FAN_CONTINUOUS,
    GAS,
    NO_CONTROL,
    Control,
    RoomResponse,
)
from dewledger.hourly.year import solve_year
from dewledger.weather.physics.moist_air import hum_ratio_from_rel_hum

# pytest-xdist hands its workers the width of its own terminal, which is not what a user asked for.
os.environ.pop("COLUMNS", None)

# The suite says the same thing every time it runs; `HYPOTHESIS_PROFILE=explore pytest ...` looks
# for cases nobody has seen.
settings.register_profile("repeatable", derandomize=True, deadline=None)
settings.register_profile("explore", max_examples=2000, deadline=None)
_PROFILE = os.environ.get("HYPOTHESIS_PROFILE", "repeatable")
settings.load_profile(_PROFILE)
if _PROFILE == "repeatable" and hasattr(providers, "_get_local_constants"):
    # Examples are drawn from the constants of whatever modules happen to be loaded as well: which
    # ones, differs from worker to worker and from run to run.
    providers._get_local_constants = lambda: providers._local_constants

PRESSURE = 101325.0
# One hour of a mild, humid day: little sensible load, much moisture outdoors.
MILD_HUMID_HOUR = {
    "outdoor_temp_C": 22.0,
    "outdoor_hum_ratio_kg_kg": 0.015,
    "pressure_Pa": PRESSURE,
    "gains_sensible_W": 2000.0,
    "gains_moisture_kg_s": 0.0002,
    "outdoor_air_kg_s": 0.2,
    "fan_mode": float(FAN_CONTINUOUS),
    "cooling_setpoint_C": 23.0,
    "heating_setpoint_C": 20.0,
    "low_limit_C": 20.0,
    "humidity_limit": 0.5,
    "solar_W": 0.0,
    "low_humidity": 0.0,
    "infiltration_share": 1.0,
    "make_up_kg_s": 0.0,
    "exhaust_share": 1.0,
}
CONDENSER_HEAT = (CONDENSER, 1e12, 1.0, 0.0, 0.0)
ELECTRIC_HEAT = (ELECTRIC, 1e12, 1.0, 0.0, 0.0)
GAS_HEAT = (GAS, 1e12, 0.8, 0.0, 1.0)


def flat_unit(
    total_W: float = 10000.0,
    sensible_W: float = 7000.0,
    compressor_W: float = 3000.0,
    condenser_fan_W: float = 300.0,
    conductance_W_K: float = 1000.0,
) -> UnitMap:
    """A tabulated unit with the same performance everywhere, so that its hour is done by hand.

    Bypass factor exp(-3) at 1 kg/s; condensing = outdoor + rejected / conductance.
    """
    one = np.ones((2, 2, 2, 1))
    empty = np.zeros((1, 1))
    return UnitMap(
        1, 0.0, 1.0, 0.0, 1.0, empty, empty, 0.0, 3.0, conductance_W_K, condenser_fan_W, -40.0,
        np.array([-20.0, 40.0]), np.array([-20.0, 60.0]), np.array([-60.0, 80.0]), np.array([1.0]),
        total_W * one, sensible_W * one, compressor_W * one,
    )  # fmt: skip


@cache
def _neutral_plant():
    """Controls as a case gives them where it says nothing: the demo without humidity control."""
    from former_premises import former_case

    from dewledger.assembly.machine import assemble
    from dewledger.study import read_weather

    case = former_case("music-school")
    return assemble(case.option_cases()[0], read_weather(case)).plant


@dataclass(frozen=True)
class Rig:
    """Everything the hourly loop takes, with the settings most tests share."""

    unit: UnitMap = field(default_factory=flat_unit)
    sources: tuple[tuple[float, ...], ...] = (ELECTRIC_HEAT,)
    flow_kg_s: float = 1.0
    fan_W: float = 400.0
    blow_through: int = 0
    capacity_control: int = CYCLING
    minimum_fraction: float = 0.3
    degradation: float = 0.25
    drying_leaving_C: float = 12.0
    drying_control: int = LEAVING_AIR
    condenser_source: CondenserSource = UNRESTRICTED
    condensing_floor_C: float = 32.0
    condensing_ceiling_C: float = 60.0
    effectiveness: float = 0.6
    wet_time_s: float = 0.0
    evaporation_ratio: float = 0.0
    heat_store_J_K: float = 20e6
    conductance_W_K: float = 200.0
    moisture_store_kg: float = 3000.0
    infiltration_kg_s: float = 0.0
    start_temp_C: float = 23.0
    start_rh: float = 0.5
    humidity_control: int = NO_CONTROL
    humidity_first: int = 0
    heating_capacity_W: float = 20000.0
    heating_efficiency: float = 0.8
    heating_gas: int = 1

    def arguments(self, drivers, warm_up=0):
        """The arguments of solve_year but for its output."""
        listed = [int(source[0]) for source in self.sources]
        place = listed.index(CONDENSER) if CONDENSER in listed else len(listed)
        recovery = place < len(listed)
        capacities = [source[1] for source in self.sources]
        plant = _neutral_plant()._replace(
            flow_kg_s=self.flow_kg_s,
            fan_W=self.fan_W,
            blow_through=self.blow_through,
            capacity_control=self.capacity_control,
            minimum_fraction=self.minimum_fraction,
            degradation=self.degradation,
            drying_leaving_C=self.drying_leaving_C,
            condensing_floor_C=self.condensing_floor_C,
            condensing_ceiling_C=self.condensing_ceiling_C,
            recovery_effectiveness=self.effectiveness if recovery else 0.0,
            recovery_capacity_W=capacities[place] if recovery else 0.0,
            reheat_before_W=float(sum(capacities[:place])),
            reheat_after_W=float(sum(capacities[place + 1 :])),
            wet_time_s=self.wet_time_s,
            evaporation_ratio=self.evaporation_ratio,
            start_up_time_s=60.0,
            cycles_per_hour=3.0,
            rated_latent_W=3000.0,
            rated_depression_K=7.0,
            start_loss=0.0,
            drying_control=self.drying_control,
            condenser_source=self.condenser_source,
            humidistat=AS_THERMOSTAT,
            coil_drop_share=0.0,
        )
        w_start = hum_ratio_from_rel_hum(self.start_temp_C, self.start_rh, PRESSURE)
        room = RoomResponse(
            self.heat_store_J_K, self.conductance_W_K, self.moisture_store_kg,
            self.infiltration_kg_s, self.start_temp_C, w_start,
        )  # fmt: skip
        control = Control(
            self.humidity_control, self.humidity_first, self.heating_capacity_W,
            self.heating_efficiency, self.heating_gas, self.heating_capacity_W,
        )  # fmt: skip
        sources = np.array(self.sources, dtype=np.float64).reshape(len(self.sources), 5)
        return self.unit, plant, room, control, sources, drivers, warm_up

    def solve(self, drivers, warm_up=0):
        """The ledger as a dictionary of columns over the hours of ``drivers``."""
        out = empty_ledger(drivers.shape[0])
        solve_year(*self.arguments(drivers, warm_up), out)
        return {name: out[INDEX[name]] for name in NAMES}


def make_hours(count=1, **changes):
    """Hours alike, (count, drivers): the mild humid hour with changes; arrays vary by hour."""
    values = MILD_HUMID_HOUR | changes
    return np.ascontiguousarray(
        np.column_stack([np.ones(count) * np.asarray(values[name]) for name in DRIVERS])
    )


@pytest.fixture(scope="session")
def rig():
    """Build a Rig from its settings."""
    return Rig


@pytest.fixture(scope="session")
def hours():
    """Build hours from the mild humid hour and changes to it."""
    return make_hours


@pytest.fixture(scope="session")
def flat():
    """Build a unit with the same performance everywhere."""
    return flat_unit


@pytest.fixture(scope="session")
def kept():
    """Reheat sources: (kind, capacity W, efficiency, auxiliary W, 1 where it burns gas)."""
    return {"condenser": CONDENSER_HEAT, "electric": ELECTRIC_HEAT, "gas": GAS_HEAT}


@pytest.fixture(scope="session")
def rated_unit():
    """An R-410A unit of 18 kW gross at 1 kg/s from its rating point."""
    from dewledger.dx_unit.from_rating import unit_from_ratings

    return unit_from_ratings(
        refrigerant="R-410A",
        total_W=18000.0,
        sensible_W=13000.0,
        net=False,
        compressor_W=4500.0,
        rated_flow_m3_s=1.0 / 1.204,
        condenser_fan_W=400.0,
        temp_in_C=26.7,
        wet_bulb_C=19.4,
        outdoor_C=35.0,
    ).map


@pytest.fixture(scope="session")
def demo_machines():
    """The demo's weather year and its options assembled, by key."""
    from former_premises import former_case

    from dewledger.assembly.machine import assemble
    from dewledger.study import read_weather

    case = former_case("music-school")
    year = read_weather(case)
    return year, {option.key: assemble(option, year) for option in case.option_cases()}
