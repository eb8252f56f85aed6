"""What the compiled functions of the unit hand to each other, and the codes of their choices."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from dewledger.components.supply_fan import CONSTANT, FlowControl
from dewledger.components.ventilation import NO_DEVICES, OutdoorAir
from dewledger.weather.numerics.compiled import by_address

FloatArray = npt.NDArray[np.float64]


BALANCE = 0


TABLE = 1


@by_address(kind=(BALANCE,))
class UnitMap(NamedTuple):
    """A unit as floats and float64 arrays, the form the compiled loop takes."""

    kind: int  # BALANCE or TABLE
    suction_first_C: float
    suction_step_K: float
    condensing_first_C: float
    condensing_step_K: float
    cooling_W: FloatArray  # (suction, condensing), all displacement in use
    compressor_W: FloatArray  # (suction, condensing), all displacement in use
    surface_resistance_K_W: float  # apparatus dew point less suction, over coil heat
    bypass_area_kg_s: float  # A0 of BF = exp(-A0 / m)
    condenser_conductance_W_K: float  # heat rejected over condensing less outdoor
    condenser_fan_W: float
    surface_floor_C: float  # the coil surface is not let below this
    table_wet_bulb_C: FloatArray
    table_dry_bulb_C: FloatArray
    table_outdoor_C: FloatArray
    table_flow_kg_s: FloatArray
    table_total_W: FloatArray  # (wet bulb, dry bulb, outdoor, flow), gross
    table_sensible_W: FloatArray  # gross; above the total where the coil is dry
    table_compressor_W: FloatArray
    usual_flow_kg_s: float = 0.0  # that of most hours, with A0 and the bypass factor at it
    usual_area_kg_s: float = 0.0
    usual_bypass: float = 0.0

    def with_usual_flow(self, flow_kg_s: float) -> UnitMap:
        """The map with its bypass factor worked out beforehand at a flow."""
        area = self.bypass_area_kg_s
        return self._replace(
            usual_flow_kg_s=flow_kg_s,
            usual_area_kg_s=area,
            usual_bypass=math.exp(-area / flow_kg_s),
        )


@dataclass(frozen=True)
class Unit:
    """A unit and its rating point, all gross of the supply fan, with the assumptions made."""

    map: UnitMap
    source: str  # "ratings", "performance table" or "compressor map"
    refrigerant: str  # empty for a tabulated unit
    rated_total_W: float
    rated_sensible_W: float
    rated_compressor_W: float
    rated_fan_W: float  # supply fan power of the rating; 0 for a gross rating
    rated_flow_kg_s: float
    rated_temp_in_C: float
    rated_hum_ratio_in: float
    rated_wet_bulb_C: float
    rated_outdoor_C: float
    rated_suction_C: float  # NaN for a tabulated unit
    rated_condensing_C: float
    rated_surface_C: float
    rated_bypass: float
    isentropic_efficiency: float  # power to the refrigerant over ideal power; NaN where unknown
    superheat_K: float
    subcooling_K: float
    notes: tuple[str, ...]

    def __repr__(self) -> str:
        return (
            f"<Unit from {self.source}{self.refrigerant and f', {self.refrigerant}'}: "
            f"{self.rated_total_W:,.0f} W total, {self.rated_sensible_W:,.0f} W sensible (gross), "
            f"compressor {self.rated_compressor_W:,.0f} W, {self.rated_flow_kg_s:.3g} kg/s>"
        )

    @property
    def rated_latent_W(self) -> float:
        """Latent part of the gross total at the rating."""
        return self.rated_total_W - self.rated_sensible_W

    @property
    def rated_rejected_W(self) -> float:
        """Heat rejected at the rating: evaporator and compressor."""
        return self.rated_total_W + self.rated_compressor_W

    @property
    def rated_depression_K(self) -> float:
        """Entering dry bulb less wet bulb at the rating."""
        return self.rated_temp_in_C - self.rated_wet_bulb_C


MATCH_SENSIBLE = 0


MATCH_REMOVAL = 1


FULL_CAPACITY = 2


CYCLING = 0


VARIABLE = 1


STAGES = 2  # all of the coil is active at every stage (intertwined circuits)


FACE_SPLIT = 3  # each stage has its share of the face; the rest passes air untreated


FAN_CONSTANT = 0


FAN_STAGED = 1


FAN_SPEED = 2


MODULATING = 0


ON_OFF = 1


SUBCOOLING = 2


SUBCOOLING_THEN_CONDENSER = 3


WRAP_AROUND = 4


# How a unit with stages or variable speed dries in a dehumidification call.
LEAST_OVERCOOLING = 0  # the stage, speed and surface that remove the water with the least reheat


ALL_STAGES = 1  # all of its displacement


LEAVING_AIR = 2  # the first stage, or the surface, that brings the air to a set point


# Task.recover of a trial without the drying mode: purchased reheat alone.
WITHOUT_COIL = 2


# Which control of the condenser source binds in an hour: bits of Operation.bound.
BY_LOCKOUT = 1


BY_VALVE = 2


BY_PURGE = 4


BY_CIRCUITS = 8


BY_FANS = 16


class CondenserSource(NamedTuple):
    """Controls of condenser heat in hours with reheat; the defaults leave all of it to the coil."""

    floor_C: float = -1e9  # minimum condensing temperature then; the ordinary one where higher
    lockout_below_C: float = -1e9  # outdoor temperature
    lockout_above_C: float = 1e9
    valve_low: float = 0.0  # share of the circuits' heat that the open valve passes at least
    valve_high: float = 1.0  # and at most
    purge_share: float = 0.0  # of an hour with reheat that pump-out takes from it
    circuits: float = 1.0  # share of the unit's circuits with a reheat coil
    fan_share: float = 1.0  # of the outdoor fans, left running in reheat


UNRESTRICTED = CondenserSource()


class Humidistat(NamedTuple):
    """How often a dehumidification call starts the unit; the default has it cycle as a thermostat
    call does."""

    band_kg: float = 0.0  # water the room's store takes up over the differential
    most_per_hour: float = 1e9  # highest cycling rate that the least run time allows


AS_THERMOSTAT = Humidistat()


@by_address(arrangement=(MODULATING,), capacity_control=(CYCLING, STAGES, VARIABLE))
class Plant(NamedTuple):
    """The unit's controls, its fan and its reheat sources, as floats the compiled loop takes."""

    flow_kg_s: float  # dry air at full supply flow
    fan_W: float  # at full supply flow
    blow_through: int
    capacity_control: int  # CYCLING, VARIABLE, STAGES or FACE_SPLIT
    stages: tuple[float, float, float, float]  # rising displacement shares, padded with 1
    minimum_fraction: float
    degradation: float  # Cd of PLF = 1 - Cd (1 - PLR)
    drying_leaving_C: float  # with LEAVING_AIR, dries at this leaving temperature or colder
    condensing_floor_C: float
    condensing_ceiling_C: float
    condenser_fan_control: int  # FAN_CONSTANT, FAN_STAGED or FAN_SPEED
    arrangement: int  # MODULATING, ON_OFF, SUBCOOLING, SUBCOOLING_THEN_CONDENSER, WRAP_AROUND
    drying_effectiveness: float  # of the subcooling or wrap-around coil
    # Evaporator effect gained per kelvin of liquid cooling: a + b C + c C^2 of the condensing C.
    liquid_gain: tuple[float, float, float]
    liquid_offset_K: float  # condensing temperature less that of the liquid
    recovery_effectiveness: float  # 0 where there is no condenser-heat coil
    recovery_capacity_W: float
    reheat_before_W: float  # new-energy capacity listed before the condenser
    reheat_after_W: float  # new-energy capacity listed after it
    wet_time_s: float  # retained water over latent capacity at the rating; 0 turns it off
    evaporation_ratio: float  # initial off-cycle evaporation over latent capacity at the rating
    start_up_time_s: float
    cycles_per_hour: float
    rated_latent_W: float
    rated_depression_K: float  # entering dry bulb less wet bulb at the rating
    outdoor: OutdoorAir = NO_DEVICES
    flow: FlowControl = CONSTANT
    start_loss: float = 0.0  # a of runtime = PLR (1 + a (1 - PLR)), the commercial form
    drying_control: int = LEAST_OVERCOOLING
    condenser_source: CondenserSource = UNRESTRICTED
    humidistat: Humidistat = AS_THERMOSTAT
    coil_drop_share: float = 0.0  # of the fan's power, for the air pressure drop of reheat coils
    full_capacity_kg_s: float = 0.0  # least dry air with all displacement in use; 0: any flow


class Operation(NamedTuple):
    """The unit's hour: means over the hour unless named 'on', which holds while it runs."""

    runtime: float
    part_load: float  # coil load over the coil load of running all hour
    fraction: float  # displacement in use while running
    total_W: float
    sensible_W: float
    removal_kg_s: float
    compressor_W: float
    condenser_fan_W: float
    condensing_C: float
    surface_C: float
    suction_C: float
    on_temp_C: float
    on_hum_ratio: float
    recovered_W: float
    available_W: float  # what all reheat sources could have given
    outdoor_coil_W: float
    precool_W: float  # taken from the air by a wrap-around loop before the coil
    swing_W: float  # net cooling beyond the need in drying mode x the share of the hour it lasts
    limited: int  # 1: at full capacity and the task is not met
    floor_hit: int
    gap_K: float  # condensing temperature of the balance less that taken; matters in a rough look
    start_surface_C: float  # where the next search may begin
    bound: int = 0  # which controls of the condenser source bind: BY_LOCKOUT and those after it


class Start(NamedTuple):
    """Where a search for the unit's hour may begin; NaN where nothing is known of one."""

    surface_C: float
    lift_K: float  # condensing temperature less outdoors that the heat rejected asks for


NO_START = Start(math.nan, math.nan)


class Running(NamedTuple):
    """Steady running at one displacement."""

    total_W: float
    sensible_W: float
    removal_kg_s: float
    compressor_W: float
    surface_C: float
    suction_C: float
    temp_C: float
    hum_ratio: float
    fraction: float
    floor_hit: int


class Shared(NamedTuple):
    """How the unit shares an hour at a condensing temperature: means over the hour."""

    runtime: float
    part_load: float
    total_W: float
    sensible_W: float
    removal_kg_s: float
    compressor_W: float
    reject_on_W: float  # heat rejected while running
    on: Running  # while running, weighted by runtime
    limited: int  # 1: at full capacity and the task is not met
    way: float  # how it dries: a pair of stages, or the temperature of a surface; -1 open
    start_surface_C: float  # where the next search may begin: of the smallest stage


class AirIn(NamedTuple):
    """Air entering the cooling coil, and the outdoors."""

    temp_C: float
    hum_ratio: float
    pressure_Pa: float
    outdoor_C: float
    flow_kg_s: float  # dry air
    depression_K: float = math.nan  # dry bulb less wet bulb, where a wet coil re-evaporates water


class Task(NamedTuple):
    """What is asked of the unit; the second number of each pair counts per unit of fan runtime.

    With a fan that cycles with the compressor, ventilation and fan heat grow with the runtime, so
    demands are ``base + per_runtime * runtime``; with a continuous fan ``per_runtime`` is 0.
    """

    kind: int
    sensible_base_W: float
    sensible_per_runtime_W: float
    removal_base_kg_s: float
    removal_per_runtime_kg_s: float
    fan_cycles: int
    recover: int  # 1 (or WITHOUT_COIL): reheat makes up for overcooling beyond the sensible demand
    rough: int = 0  # 1: one look at the unit, its condensing temperature as it is guessed
