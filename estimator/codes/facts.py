"""What energy codes say of reheat, as data, and what must be known to judge a design by them.

The table is data/reheat_codes.toml; ``dewledger.codes.judging`` judges by it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from functools import cache
from typing import Any

from dewledger.weather.errors import InputError


def _fact(words: str, key: str = "") -> Any:
    """A fact that may be unknown; ``key`` of [allowance] states what a case cannot know."""
    needed = f"{words} ({key} in [allowance])" if key else words
    return field(default=None, metadata={"words": words, "needs": needed})


@dataclass(frozen=True, kw_only=True)
class ReheatFacts:
    """What the case and the year's ledger say of one option. None: not known.

    Energies are heat to the air over the year, kWh, unless said otherwise. Capacities and flows
    are of one unit at design. ``minimum_flow_frac`` is the supply flow when reheat starts and
    ``minimum_capacity_frac`` the least capacity before it, both as shares of design.
    ``humidity_limit_rh`` is None where no limit is enforced; a dew-point limit is stated as the
    RH it means at the room's set point. ``humidifying_rh`` is None where nothing humidifies.
    ``dried_hours`` are those of a unit that dries its supply air to a dew point whatever the room's
    humidity, ``dried_hours_below`` those of them with the room below the code's least humidity.
    ``flow_cut_first`` says whether the control of the case cuts supply air before reheat, and
    ``reheat_flows_above`` holds the flow of each hour with reheat in which it was above its least,
    as a share of design.
    ``ventilation_hours_above`` and ``ventilation_heat_above_kWh`` come from
    ``facts_of_year.ventilation_heat_above``. ``baseline_reheat_kWh`` is the heat that the
    baseline's reheat gives, which its own ``heating_type`` makes at ``heating_efficiency``.
    ``low_fan_flow_frac`` and ``low_fan_power_frac`` are those of the low fan speed over full.
    ``humidified_dew_point_C`` is the dew point that a humidifier holds. ``efficiency_margin`` is by
    how much the unit's rating, as modeled, exceeds the least one, as a share of it.
    """

    reheat_recovered_kWh: float
    reheat_purchased_kWh: float
    reheat_unmet_kWh: float
    number_of_units: int = 1
    heating_type: str = ""
    humidity_limit_rh: float | None = None
    humidifying_rh: float | None = None
    humidity_deadband: float | None = None
    dried_hours: float | None = None
    dried_hours_below: float | None = None
    flow_cut_first: bool | None = None
    reheat_flows_above: tuple[float, ...] = ()
    cooling_capacity_W: float | None = _fact("the design cooling capacity of a unit")
    minimum_flow_frac: float | None = _fact("the supply flow when reheat starts")
    minimum_capacity_frac: float | None = _fact("the least capacity the unit unloads to")
    outdoor_flow_frac: float | None = _fact("the minimum outdoor-air share of design flow")
    zone_supply_m3_s: float | None = _fact("the zone's supply flow")
    heating_supply_rise_K: float | None = _fact(
        "how far heating supply air is above the space set point"
    )
    heating_supply_C: float | None = _fact("the heating supply temperature")
    cooling_supply_C: float | None = _fact("the cooling supply temperature")
    thermostat_deadband_K: float | None = _fact("the deadband between heating and cooling")
    humidity_devices: float | None = _fact("the number of humidity control devices")
    humidity_controlled: bool | None = field(
        default=True,
        metadata={
            "words": "whether humidity is controlled",
            "needs": "whether humidity is controlled ([humidity] control)",
        },
    )
    ventilation_hours_above: float | None = _fact(
        "the hours in which ventilation air is warmed above the limit while zones need cooling"
    )
    ventilation_heat_above_kWh: float | None = None
    baseline_reheat_kWh: float | None = _fact(
        "the heat of the baseline's reheat, of a reference option that purchases some"
    )
    heating_efficiency: float = 1.0
    computer_room: bool = False
    low_fan_flow_frac: float | None = _fact("the supply flow at the low fan speed")
    low_fan_power_frac: float | None = None
    has_economizer: bool | None = _fact("whether the unit has an economizer")
    economizer_zone: bool | None = _fact(
        "whether the site is in a climate zone that requires an economizer", "climate_zone"
    )
    climate_zone: str | None = None
    humidified_dew_point_C: float | None = None
    efficiency_margin: float | None = None
    thermostat_exception: str | None = None
    outdoor_air_at_code_rate: bool | None = None
    zone_control_exception: bool | None = _fact(
        "whether the unit is run on its supply temperature by the exception from zone control",
        "zone_control_exception",
    )
    indoor_horticulture: bool | None = _fact(
        "whether the room is one of indoor horticulture", "process_space"
    )
    openings_above_6_ft: bool | None = _fact(
        "whether supply and return openings are both more than 6 ft above the floor",
        "openings_above_6_ft",
    )
    ventilates_conditioned_zones: bool | None = _fact(
        "whether the unit ventilates several zones that have their own heating and cooling",
        "ventilates_conditioned_zones",
    )
    zone_0A_to_3A: bool | None = _fact(
        "whether the site is in climate zones 0A to 3A", "climate_zone"
    )
    outdoor_air_unit: bool | None = _fact("whether this is an outdoor-air unit")
    variable_flow: bool | None = _fact("whether the supply flow varies with the load")
    supply_reset: bool | None = _fact("whether the supply temperature is reset", "supply_reset")

    def __post_init__(self) -> None:
        for name in ("reheat_recovered_kWh", "reheat_purchased_kWh", "reheat_unmet_kWh"):
            if not getattr(self, name) >= 0.0:
                raise InputError(f"{name} is {getattr(self, name):g}; it cannot be negative")
        if self.number_of_units < 1:
            raise InputError(f"number_of_units is {self.number_of_units}; write 1 or more")

    @property
    def reheat_kWh(self) -> float:
        """Reheat, recovered and purchased."""
        return self.reheat_recovered_kWh + self.reheat_purchased_kWh

    @property
    def reheat_occurs(self) -> bool:
        """Whether any reheat was given in the year."""
        return self.reheat_kWh > 0.0

    @property
    def recovered_share(self) -> float | None:
        """Recovered over all reheat of the year; None where there was none."""
        return self.reheat_recovered_kWh / self.reheat_kWh if self.reheat_kWh > 0.0 else None


@cache
def fact_words() -> dict[str, str]:
    """What each fact that may be unknown is called in a sentence."""
    return {"reheat_occurs": "whether reheat occurs in the year"} | {
        f.name: f.metadata["words"] for f in fields(ReheatFacts) if f.metadata
    }


@cache
def fact_needs() -> dict[str, str]:
    """The same where it is missing, with the key of [allowance] that states it."""
    return {f.name: f.metadata["needs"] for f in fields(ReheatFacts) if f.metadata}
