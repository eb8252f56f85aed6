"""What energy codes say of reheat, as data, and what must be known to judge a design by them.

The table is data/reheat_codes.toml; ``estimator.allowance`` judges by it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, field_validator, model_validator

from estimator.quantities import parse, quantity
from weather.errors import InputError

Role = Literal["base", "exception", "condition", "baseline"]
ProcessSpace = Literal[
    "museum",
    "surgical suite",
    "vivarium",
    "pharmacy",
    "refrigeration",
    "computer room",
    "other",
]


@dataclass(frozen=True)
class Rule:
    """One requirement of a code; the fields are explained at the head of the table."""

    code: str
    editions: tuple[str, ...]
    section: str
    role: Role
    test: str
    text: str
    source: str
    standing: str
    item: str = ""
    fact: str = ""
    threshold: str = ""
    kind: str = ""
    also: str = ""
    also_kind: str = ""
    applies: tuple[str, ...] = ()
    spaces: tuple[str, ...] = ()
    needed: str = ""
    change: str = ""
    also_change: str = ""

    @property
    def limit(self) -> float:
        """The threshold in the SI unit of its kind."""
        return float(parse(self.threshold, self.kind))

    @property
    def also_limit(self) -> float:
        """The second figure in the SI unit of its kind."""
        return float(parse(self.also, self.also_kind))


@cache
def all_rules() -> tuple[Rule, ...]:
    """Every rule of the table, in its order."""
    path = Path(__file__).parent / "data" / "reheat_codes.toml"
    with path.open("rb") as file:
        rows: list[dict[str, Any]] = tomllib.load(file)["rule"]
    return tuple(Rule(**{key: _frozen(value) for key, value in row.items()}) for row in rows)


def _frozen(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


@cache
def known_codes() -> dict[str, tuple[str, ...]]:
    """The editions of each code, oldest first."""
    codes: dict[str, set[str]] = {}
    for rule in all_rules():
        codes.setdefault(rule.code, set()).update(rule.editions)
    return {code: tuple(sorted(editions)) for code, editions in codes.items()}


def rules_of(code: str, edition: str) -> tuple[Rule, ...]:
    """The rules of one edition of a code; InputError lists the known where it is unknown."""
    check_edition(code, edition)
    return tuple(rule for rule in all_rules() if rule.code == code and edition in rule.editions)


def check_edition(code: str, edition: str) -> None:
    """InputError, listing the known, where a code or its edition is not in the table."""
    codes = known_codes()
    if code not in codes:
        raise InputError(f'energy code "{code}" is not known; write one of {_listed(codes)}')
    if edition not in codes[code]:
        raise InputError(
            f'edition "{edition}" of {code} is not known; write one of {_listed(codes[code])}'
        )


def _listed(names: Sequence[str] | dict[str, Any]) -> str:
    return ", ".join(f'"{name}"' for name in names)


# Thermal zones of ASHRAE 169: 0 to 8, moist A, dry B, marine C.
_CLIMATE_ZONES = (
    *("0A", "0B", "1A", "1B", "2A", "2B", "3A", "3B", "3C", "4A", "4B", "4C"),
    *("5A", "5B", "5C", "6A", "6B", "7", "8"),
)


class Allowance(BaseModel):
    """The energy code to judge by, and what only the designer can state."""

    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)

    code: str = "90.1"
    """The energy code."""
    edition: str = ""
    """The edition that the jurisdiction adopted; may be left out where only one is known."""
    process_humidity: str | None = None
    """Why the space needs its humidity, where that is for a process and not for comfort."""
    process_space: ProcessSpace = "other"
    """Which of the spaces that codes name it is."""
    supply_flow_reduced_first: bool | None = None
    """Whether the control sequence cuts supply air before any reheat."""
    unloads_to_half: bool | None = None
    """Whether the unit unloads to 50 % or less before reheat, where the case cannot tell."""
    desiccant: bool = False
    """Whether a desiccant system adds heat to the air; not modelled."""
    desiccant_heat_removed: Annotated[float, *quantity("fraction")] | None = None
    """The share of the desiccant's heat that its heat exchanger removes."""
    humidity_deadband: Annotated[float, *quantity("fraction")] | None = None
    """Relative humidity between the end of humidifying and the start of drying."""
    tight_humidity: bool = False
    """Whether 5 % RH either way or tighter is required."""
    baseline_meets_exception: bool | None = None
    """Whether the baseline of a performance comparison meets an exception."""
    openings_above_6_ft: bool | None = None
    """Whether supply and return openings are both more than 6 ft above the floor."""
    ventilates_conditioned_zones: bool | None = None
    """Whether the unit ventilates several zones with their own heating and cooling."""
    supply_reset: bool | None = None
    """Whether the supply temperature is reset."""
    climate_zone: str | None = None
    """Climate zone of ASHRAE 169, such as "3A"."""

    @field_validator("climate_zone")
    @classmethod
    def _climate_zone(cls, value: str | None) -> str | None:
        if value is not None and value.upper() not in _CLIMATE_ZONES:
            raise InputError(
                f'climate_zone "{value}" is not known; write one of {", ".join(_CLIMATE_ZONES)}'
            )
        return value.upper() if value else None

    @field_validator("edition", mode="before")
    @classmethod
    def _edition(cls, value: object) -> object:
        # A year written without quotes is as clear as one with them.
        return str(value) if isinstance(value, int) and not isinstance(value, bool) else value

    @field_validator("process_humidity")
    @classmethod
    def _process_humidity(cls, value: str | None) -> str | None:
        if value is not None and not value.strip():
            raise InputError(
                "process_humidity is empty; write why the space needs its humidity, or leave it out"
            )
        return value

    @model_validator(mode="after")
    def _known(self) -> Allowance:
        if not self.edition:
            editions = known_codes().get(self.code, ())
            # An unknown code falls through to check_edition, which lists the known ones.
            if len(editions) > 1:
                raise InputError(
                    f"the edition of {self.code} is missing; write edition = one of "
                    f"{_listed(editions)}, as the jurisdiction adopted"
                )
            object.__setattr__(self, "edition", editions[0] if editions else "")
        check_edition(self.code, self.edition)
        if self.desiccant_heat_removed is not None and not self.desiccant:
            raise InputError(
                "desiccant_heat_removed is given without a desiccant; write desiccant = true or "
                "leave it out"
            )
        return self


def _fact(words: str, key: str = "") -> Any:
    """A fact that may be unknown; ``key`` of [allowance] states what a case cannot know."""
    told = f"{words} ({key} in [allowance])" if key else words
    return field(default=None, metadata={"words": words, "needs": told})


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
    ``allowance.ventilation_heat_above``. ``baseline_reheat_kWh`` is the energy that the baseline's
    reheat buys, of type ``heating_type``.
    """

    reheat_recovered_kWh: float
    reheat_new_energy_kWh: float
    reheat_shortfall_kWh: float
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
        "the energy of the baseline's reheat, of a reference option that buys some"
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
        for name in ("reheat_recovered_kWh", "reheat_new_energy_kWh", "reheat_shortfall_kWh"):
            if not getattr(self, name) >= 0.0:
                raise InputError(f"{name} is {getattr(self, name):g}; it cannot be negative")
        if self.number_of_units < 1:
            raise InputError(f"number_of_units is {self.number_of_units}; write 1 or more")

    @property
    def reheat_kWh(self) -> float:
        """Reheat that was given back, recovered and bought."""
        return self.reheat_recovered_kWh + self.reheat_new_energy_kWh

    @property
    def recovered_share(self) -> float | None:
        """Recovered over all reheat of the year; None where there was none."""
        return self.reheat_recovered_kWh / self.reheat_kWh if self.reheat_kWh > 0.0 else None


@cache
def fact_words() -> dict[str, str]:
    """What each fact that may be unknown is called in a sentence."""
    return {f.name: f.metadata["words"] for f in fields(ReheatFacts) if f.metadata}


@cache
def fact_needs() -> dict[str, str]:
    """The same where it is missing, with the key of [allowance] that states it."""
    return {f.name: f.metadata["needs"] for f in fields(ReheatFacts) if f.metadata}
