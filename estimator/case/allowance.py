"""The table [allowance] of a case: the energy code and the facts it asks for."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from dewledger.case.base import Section
from dewledger.data.reheat_codes import check_edition, known_codes, listed
from dewledger.quantities import quantity
from dewledger.weather.errors import InputError

ProcessSpace = Literal[
    "museum",
    "surgical suite",
    "vivarium",
    "pharmacy",
    "refrigeration",
    "computer room",
    "indoor horticulture",
    "other",
]
ThermostatException = Literal["manual changeover", "approved precision occupancy"]


# Thermal zones of ASHRAE 169: 0 to 8, moist A, dry B, marine C.
_CLIMATE_ZONES = (
    *("0A", "0B", "1A", "1B", "2A", "2B", "3A", "3B", "3C", "4A", "4B", "4C"),
    *("5A", "5B", "5C", "6A", "6B", "7", "8"),
)


class Allowance(Section):
    """The energy code to judge by, and what only the designer can state."""

    code: str = "90.1"
    """The energy code."""
    edition: str = ""
    """The edition that the jurisdiction adopted; may be left out where only one is known."""
    process_humidity: str | None = None
    """Why the space needs its humidity, where that is for a process and not for comfort, and who
    approved it or which accreditation requires it."""
    process_space: ProcessSpace = "other"
    """Which of the spaces that codes name it is."""
    supply_flow_reduced_first: bool | None = None
    """Whether the control sequence cuts supply air before any reheat."""
    unloads_to_half: bool | None = None
    """Whether the unit unloads to 50 % or less before reheat, where the case does not show it."""
    desiccant: bool = False
    """Whether a desiccant system adds heat to the air; not modeled."""
    desiccant_heat_removed: Annotated[float, *quantity("fraction")] | None = None
    """The share of the desiccant's heat that its heat exchanger removes."""
    humidity_deadband: Annotated[float, *quantity("fraction")] | None = None
    """Relative humidity between the end of humidifying and the start of drying."""
    tight_humidity: bool = False
    """Whether 5 % RH either way or tighter is required, and the authority approved it."""
    baseline_meets_exception: bool | None = None
    """Whether the baseline of a performance comparison meets an exception."""
    openings_above_6_ft: bool | None = None
    """Whether supply and return openings are both more than 6 ft above the floor."""
    ventilates_conditioned_zones: bool | None = None
    """Whether the unit ventilates several zones with their own heating and cooling."""
    supply_reset: bool | None = None
    """Whether the supply temperature is reset."""
    thermostat_exception: ThermostatException | None = None
    """Why the thermostat's deadband may be smaller than 5 degF, where it may."""
    outdoor_air_at_code_rate: bool | None = None
    """Whether the outdoor air is no more than the rate that the ventilation code requires."""
    zone_control_exception: bool | None = None
    """Whether an outdoor-air unit is run on its supply temperature, by Washington's exception from
    zone control."""
    unit_made: Annotated[int, Field(ge=1950, le=2100)] | None = None
    """Year in which the unit was or will be made, for the federal minimum efficiency; default
    now."""
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
                    f"{listed(editions)}, as the jurisdiction adopted"
                )
            object.__setattr__(self, "edition", editions[0] if editions else "")
        check_edition(self.code, self.edition)
        if self.desiccant_heat_removed is not None and not self.desiccant:
            raise InputError(
                "desiccant_heat_removed is given without a desiccant; write desiccant = true or "
                "leave it out"
            )
        return self
