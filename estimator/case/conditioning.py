"""The tables [air.recovery], [air.economizer], [humidifier] and [envelope] of a case."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field, field_validator, model_validator

from dewledger.case.base import Section
from dewledger.case.words import written
from dewledger.quantities import Measured, parse, quantity
from dewledger.weather.errors import InputError


class Recovery(Section):
    """A device that exchanges heat, and moisture where it can, between outdoor and exhaust air.

    Effectiveness as AHRI 1060 and ASHRAE 84 define it, at the rated flow and at 75 % of it.
    """

    following: ClassVar[frozenset[str]] = frozenset(
        {"sensible_low", "latent_low", "rated_flow", "exhaust_share"}
    )

    sensible: Annotated[float, *quantity("fraction")]
    """Sensible effectiveness at the rated flow."""
    sensible_low: Annotated[float, *quantity("fraction")] | None = None
    """Sensible effectiveness at 75 % of the rated flow; default the same."""
    latent: Annotated[float, *quantity("fraction")] = parse("0 %", "fraction")
    """Latent effectiveness at the rated flow; default none, a sensible device."""
    latent_low: Annotated[float, *quantity("fraction")] | None = None
    """Latent effectiveness at 75 % of the rated flow; default the same."""
    rated_flow: Annotated[float, *quantity("air flow", above_zero=True)] | None = None
    """Flow of the rating; default the outdoor flow through the device."""
    leakage: Annotated[float, *quantity("fraction")] = parse("0 %", "fraction")
    """Exhaust air in the outdoor air after the device (purge and leaks); the flow is raised so that
    the outdoor air asked for still comes in."""
    exhaust_share: Annotated[float, *quantity("fraction")] = parse("100 %", "fraction")
    """Share of [air] exhaust_flow that passes the device; the rest, of hoods and washrooms, goes
    straight out. With less exhaust than outdoor air, effectiveness is of the exhaust."""
    bypass: bool = True
    """Whether recovery is turned down where cool outdoor air does cooling that the room needs."""
    frost_limit: Annotated[float, *quantity("temperature")] | None = None
    """Outdoor temperature below which no more heat is recovered than at it; default no limit."""
    pressure_drop: Annotated[float, *quantity("pressure")] = parse("0 Pa", "pressure")
    """Pressure drop of each of its two air streams at the outdoor flow."""
    exhaust_fan_efficiency: Annotated[float, *quantity("fraction", above_zero=True)] = parse(
        "50 %", "fraction"
    )
    """Air power over electric power of the fans that make up the drop (common practice)."""
    drive_power: Annotated[float, *quantity("power")] = parse("0 W", "power")
    """Power of its drive or pump while outdoor air flows."""

    @model_validator(mode="after")
    def _fill(self) -> Recovery:
        if self.sensible_low is None:
            self.fill("sensible_low", self.sensible)
        if self.latent_low is None:
            self.fill("latent_low", self.latent)
        if self.leakage > 0.5:
            raise InputError(
                f'leakage "{written(self.leakage)}" is more than half the air; write for example '
                '"5 %"'
            )
        return self


class Economizer(Section):
    """More outdoor air where it does cooling that the room needs."""

    control: Literal["dry bulb", "dew point", "enthalpy"] = "dry bulb"
    """What is compared with the room's air, besides the limits: nothing, dew point, or enthalpy."""
    high_limit: Annotated[float, *quantity("temperature")] = parse("75 degF", "temperature")
    """Outdoor dry bulb above which it stays shut."""
    humidity_lockout: Annotated[float, *quantity("temperature")] | None = None
    """Outdoor dew point above which it stays shut; default none."""
    flow: Annotated[float, *quantity("air flow", above_zero=True)] | None = None
    """Outdoor air wide open; default the supply flow."""


class Humidifier(Section):
    """Moisture added to the room where it is drier than a low limit."""

    following: ClassVar[frozenset[str]] = frozenset({"efficiency", "power_per_flow"})

    source: Literal["electric steam", "gas steam", "adiabatic"] = "electric steam"
    """Steam from electricity or gas, or water that evaporates in the room's air and cools it."""
    limit: str | None = None
    """A humidity such as "35 %" or a dew point such as "40 degF", of the kind that [humidity]
    control measures (a humidity where it is "none"); default range_low."""
    limit_unoccupied: str | None = None
    """The limit of unoccupied hours; default the same."""
    capacity: Annotated[float, *quantity("moisture flow", above_zero=True)] | None = None
    """Most moisture it adds; default not limited by size."""
    efficiency: Annotated[float, *quantity("fraction", above_zero=True)] | None = None
    """Heat in the steam over energy in; default electric 95 %, gas 80 % (common practice)."""
    power_per_flow: Annotated[float, Field(ge=0.0, le=1.0)] = 0.01
    """Electricity in kWh for each kg of water of an "adiabatic" source; default a high-pressure
    spray (common practice)."""

    @field_validator("limit", "limit_unoccupied", mode="before")
    @classmethod
    def _as_text(cls, value: object) -> object:
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        return f"{value:g}" if is_number else value

    @model_validator(mode="after")
    def _fill(self) -> Humidifier:
        if self.source == "adiabatic":
            if self.efficiency is not None:
                raise InputError(
                    'source = "adiabatic" makes no steam and has no efficiency; write '
                    "power_per_flow"
                )
        elif "power_per_flow" in self.model_fields_set:
            raise InputError(
                f'power_per_flow belongs to source = "adiabatic", not "{self.source}"; write '
                "efficiency"
            )
        elif self.efficiency is None:
            usual = "95 %" if self.source == "electric steam" else "80 %"
            self.fill("efficiency", parse(usual, "fraction"))
        return self

    def value(self, text: str, dew_point: bool, place: str) -> Measured:
        """A limit as a fraction, or as a dew point [C]."""
        try:
            return parse(text, "temperature" if dew_point else "fraction")
        except InputError as error:
            raise InputError(f"[humidifier] {place}: {error}") from None


class Window(Section):
    """Windows of one orientation."""

    area: Annotated[float, *quantity("area", above_zero=True)]
    """Glazed area."""
    azimuth: Annotated[float, Field(ge=0, le=360)]
    """Degrees from north that they face: 90 east, 180 south, 270 west."""
    tilt: Annotated[float, Field(ge=0, le=90)] = 90.0
    """Degrees from the horizontal: 90 a wall, 0 a flat roof."""
    solar_factor: Annotated[float, *quantity("fraction")] = parse("60 %", "fraction")
    """Share of the sun on the glass that becomes heat inside (g-value, SHGC)."""
    shading: Annotated[float, *quantity("fraction")] = parse("100 %", "fraction")
    """Share of the sun that reaches the glass past frames, overhangs and blinds."""


class Envelope(Section):
    """The envelope as the network of ISO 13790, instead of [room] conductance and heat capacity."""

    opaque_conductance: Annotated[float, *quantity("conductance")]
    """Heat through walls and roof per degree."""
    window_conductance: Annotated[float, *quantity("conductance")] = parse("0 W/K", "conductance")
    """Heat through windows and doors per degree."""
    ground_conductance: Annotated[float, *quantity("conductance")] = parse("0 W/K", "conductance")
    """Heat through floors and walls on the ground per degree."""
    ground_temperature: Annotated[float, *quantity("temperature")] | None = None
    """Temperature of the ground; default the year's mean outdoors."""
    mass: Literal["very light", "light", "medium", "heavy", "very heavy"] = "medium"
    """Mass class of ISO 13790."""
    windows: tuple[Window, ...] = ()
    """Windows that the sun shines through, one table for each orientation."""
    wall_area: Annotated[float, *quantity("area", above_zero=True)] | None = None
    """Area of walls and roof with their windows, to check the window area against."""

    @model_validator(mode="after")
    def _agree(self) -> Envelope:
        glass = sum(float(window.area) for window in self.windows)
        if self.wall_area is not None and glass > self.wall_area:
            raise InputError(
                f"the windows come to {glass:.0f} m2, more than wall_area "
                f'"{written(self.wall_area)}"; correct the one or the other'
            )
        if self.windows and self.window_conductance == 0.0:
            raise InputError(
                'windows are given without window_conductance; write for example "60 Btu/h/degF"'
            )
        return self


class OutdoorAirUnit(Section):
    """An outdoor-air unit: [unit] and [air] then dry and deliver the outdoor air, and the room has
    cooling and heating of its own. The supply air's dew point takes the place of [humidity]
    control."""

    following: ClassVar[frozenset[str]] = frozenset(
        {
            "least_temperature",
            "reset_from",
            "reset_to",
            "dew_point_reset_by",
            "dew_point_reset_from",
            "dew_point_reset_to",
        }
    )

    supply_dew_point: Annotated[float, *quantity("temperature")]
    """Dew point that the supply air is dried to."""
    supply_dew_point_mild: Annotated[float, *quantity("temperature")] | None = None
    """The same at and below dew_point_reset_from; default no reset."""
    dew_point_reset_by: Literal["outdoor dew point", "outdoor temperature"] = "outdoor dew point"
    """What resets the supply dew point, in a line between the two ends."""
    dew_point_reset_from: Annotated[float, *quantity("temperature")] = parse(
        "55 degF", "temperature"
    )
    """Outdoor dew point or temperature of supply_dew_point_mild."""
    dew_point_reset_to: Annotated[float, *quantity("temperature")] = parse("70 degF", "temperature")
    """Outdoor dew point or temperature at and above which supply_dew_point holds."""
    by_room_humidity: bool = False
    """Whether the supply air is dried no further than the limit of [humidity] needs, which then
    has a control."""
    supply_temperature: Annotated[float, *quantity("temperature")] = parse("70 degF", "temperature")
    """Temperature that the supply air is brought to, by cooling, reheat or heating."""
    supply_temperature_mild: Annotated[float, *quantity("temperature")] | None = None
    """The same at and below reset_from outdoors; default no reset."""
    reset_from: Annotated[float, *quantity("temperature")] = parse("50 degF", "temperature")
    """Outdoor temperature of supply_temperature_mild."""
    reset_to: Annotated[float, *quantity("temperature")] = parse("75 degF", "temperature")
    """Outdoor temperature at and above which supply_temperature holds."""
    by_room_need: bool = False
    """Whether the supply air comes colder where the room needs cooling, down to
    least_temperature."""
    least_temperature: Annotated[float, *quantity("temperature")] | None = None
    """Coldest supply air by room need; default the supply dew point."""
    room_cooling_efficiency: Annotated[float, *quantity("efficiency ratio", above_zero=True)] = (
        parse("3.2 COP", "efficiency ratio")
    )
    """Total cooling over electricity of the cooling in the room."""
    room_sensible_heat_ratio: Annotated[float, *quantity("fraction", above_zero=True)] = parse(
        "100 %", "fraction"
    )
    """Sensible over total cooling in the room."""
    room_cooling_capacity: Annotated[float, *quantity("heat flow")] | None = None
    """Most total cooling in the room; default not limited by size."""

    @model_validator(mode="after")
    def _agree(self) -> OutdoorAirUnit:
        given = self.model_fields_set
        for set_point, fields in _RESETS:
            stray = [name for name in fields if name in given]
            if stray and getattr(self, set_point) is None:
                raise InputError(
                    f"{stray[0]} resets nothing without {set_point}; write both or neither"
                )
        if "least_temperature" in given and not self.by_room_need:
            raise InputError(
                "least_temperature belongs to by_room_need = true; write both or neither"
            )
        self._dew_points()
        if self.least_temperature is None:
            self.fill("least_temperature", self.supply_dew_point)
        elif self.least_temperature > self.supply_temperature:
            raise InputError(
                f'least_temperature "{written(self.least_temperature)}" is above '
                f'supply_temperature "{written(self.supply_temperature)}"; lower it'
            )
        if self.supply_temperature < self.supply_dew_point:
            raise InputError(
                f'supply_temperature "{written(self.supply_temperature)}" is below '
                f'supply_dew_point "{written(self.supply_dew_point)}"; raise the one or lower the '
                "other"
            )
        mild = self.supply_temperature_mild
        if mild is not None and mild < self.supply_dew_point:
            raise InputError(
                f'supply_temperature_mild "{written(mild)}" is below supply_dew_point '
                f'"{written(self.supply_dew_point)}"; raise it'
            )
        if self.reset_from >= self.reset_to:
            raise InputError(
                f'reset_from "{written(self.reset_from)}" is not below reset_to '
                f'"{written(self.reset_to)}"; lower the one or raise the other'
            )
        return self

    def _dew_points(self) -> None:
        mild = self.supply_dew_point_mild
        if mild is not None and mild < self.supply_dew_point:
            raise InputError(
                f'supply_dew_point_mild "{written(mild)}" is below supply_dew_point '
                f'"{written(self.supply_dew_point)}"; the air may only be damper in mild weather'
            )
        if self.dew_point_reset_from >= self.dew_point_reset_to:
            raise InputError(
                f'dew_point_reset_from "{written(self.dew_point_reset_from)}" is not below '
                f'dew_point_reset_to "{written(self.dew_point_reset_to)}"; lower the one or raise '
                "the other"
            )


# What means nothing without the set point of mild weather.
_RESETS = (
    ("supply_temperature_mild", ("reset_from", "reset_to")),
    (
        "supply_dew_point_mild",
        ("dew_point_reset_by", "dew_point_reset_from", "dew_point_reset_to"),
    ),
)
