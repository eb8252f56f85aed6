"""The tables [unit], [humidity], [[reheat]] and [heating] of a case."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, ClassVar, Literal

from pydantic import BeforeValidator, Field, field_validator, model_validator

from estimator.case.base import Section, written
from estimator.case.criteria import OwnCriterion
from estimator.case.merge import require_one
from estimator.quantities import Measured, parse, quantity
from weather.errors import InputError

# Edge of the maps of compressors and refrigerants: 149 F.
HIGHEST_CONDENSING_C = 65.0


class ReEvaporation(Section):
    """Water that goes from the stopped coil back into the room while the fan runs on.

    Model of Henderson and Rengarajan, ASHRAE Transactions 102(1), 1996; typical values from memory.
    """

    model: Literal["Henderson-Rengarajan", "none"] = "Henderson-Rengarajan"
    """The model, or "none"."""
    wet_time: Annotated[float, *quantity("time", above_zero=True)] = parse("1000 s", "time")
    """Retained water over the latent capacity at the rating; 12 to 27 min is usual."""
    gamma: Annotated[float, *quantity("number")] = parse(1.0, "number")
    """Evaporation when the coil stops over the latent capacity at the rating; 0.5 to 1.5 is
    usual."""
    start_up_time: Annotated[float, *quantity("time")] = parse("60 s", "time")
    """Time constant of the latent capacity after a start; 45 to 80 s is usual."""
    cycles_per_hour: Annotated[float, *quantity("number", above_zero=True)] = parse(3, "number")
    """Most starts in an hour, at half load; 2.5 to 3 is usual."""


class Unit(Section):
    """The cooling unit: its rating, its refrigerant and its controls."""

    # Suction and condensing temperature count as assumed until they are given.
    following: ClassVar[frozenset[str]] = frozenset(
        {"rated_flow", "rated_suction", "rated_condensing"}
    )

    method: Literal["ratings", "table", "compressor map"] = "ratings"
    """Whether the unit is known by its rating point, by a performance table, or by its rating
    point and the ten-coefficient map of its compressor."""
    refrigerant: Literal["R-410A", "R-32", "R-454B", "R-134a", "R-22"] = "R-410A"
    """The refrigerant."""
    rating: Literal["AHRI net", "gross"] = "AHRI net"
    """Whether capacities are net of the indoor fan's heat and the efficiency counts its power."""
    total_capacity: Annotated[float, *quantity("heat flow", above_zero=True)] | None = None
    """Rated total cooling capacity."""
    sensible_capacity: Annotated[float, *quantity("heat flow", above_zero=True)] | None = None
    """Rated sensible capacity; or sensible_heat_ratio."""
    sensible_heat_ratio: Annotated[float, *quantity("fraction", above_zero=True)] | None = None
    """Rated sensible over total capacity."""
    efficiency: Annotated[float, *quantity("efficiency ratio", above_zero=True)] | None = None
    """Rated efficiency; or compressor_power."""
    compressor_power: Annotated[float, *quantity("power", above_zero=True)] | None = None
    """Power of the compressor at the rating."""
    rated_flow: Annotated[float, *quantity("air flow", above_zero=True)] | None = None
    """Air flow of the rating; default the supply flow."""
    rated_fan_power: Annotated[float, *quantity("power")] | None = None
    """Indoor fan power of an AHRI net rating; default that of the standard."""
    rated_entering_dry_bulb: Annotated[float, *quantity("temperature")] = parse(
        "80 degF", "temperature"
    )
    """Air onto the coil at the rating."""
    rated_entering_wet_bulb: Annotated[float, *quantity("temperature")] = parse(
        "67 degF", "temperature"
    )
    """Wet bulb onto the coil at the rating."""
    rated_outdoor: Annotated[float, *quantity("temperature")] = parse("95 degF", "temperature")
    """Outdoor temperature of the rating."""
    condenser_fan_power: Annotated[float, *quantity("power")] | None = None
    """Power of the outdoor fans; default a typical one for the size."""
    rated_suction: Annotated[float, *quantity("temperature")] = parse("45 degF", "temperature")
    """Saturated suction temperature at the rating."""
    rated_condensing: Annotated[float, *quantity("temperature")] = parse("120 degF", "temperature")
    """Saturated condensing temperature at the rating."""
    superheat: Annotated[float, *quantity("temperature difference")] = parse(
        "10 degF", "temperature difference"
    )
    """Superheat of the suction gas."""
    subcooling: Annotated[float, *quantity("temperature difference")] = parse(
        "10 degF", "temperature difference"
    )
    """Subcooling of the liquid."""
    clearance: Annotated[float, *quantity("number")] = parse(0.06, "number")
    """Clearance of the compressor over its displacement."""
    capacity_control: Literal["cycling", "variable", "stages"] = "cycling"
    """How the unit meets part load."""
    minimum_capacity: Annotated[float, *quantity("fraction", above_zero=True)] = parse(
        "30 %", "fraction"
    )
    """Least displacement of a "variable" unit before it cycles."""
    stages: tuple[Annotated[float, *quantity("fraction", above_zero=True)], ...] = ()
    """Displacement of each of the "stages", rising to 1; up to four."""
    stage_coil: Literal["intertwined", "face split"] = "intertwined"
    """Whether every stage cools the whole coil or its own part of the face."""
    minimum_run_time: Annotated[float, *quantity("time", above_zero=True)] | None = None
    """Least time the compressor runs once started; it caps cycles_per_hour."""
    cycling_degradation: Annotated[float, *quantity("fraction")] = parse("25 %", "fraction")
    """Cd of PLF = 1 - Cd (1 - PLR). Default: AHRI 210/240."""
    drying_leaving_temperature: Annotated[float, *quantity("temperature")] = parse(
        "55 degF", "temperature"
    )
    """Air off the coil that a "variable" unit dries at, or colder. Default: common practice."""
    condensing_floor: Annotated[float, *quantity("temperature")] = parse("90 degF", "temperature")
    """Head-pressure control keeps the condensing temperature at or above this."""
    condensing_ceiling: Annotated[float, *quantity("temperature")] = parse(
        "140 degF", "temperature"
    )
    """Condenser heat may not raise the condensing temperature above this."""
    condenser_fan_control: Literal["constant", "staged", "variable speed"] = "constant"
    """Whether the outdoor fans do less where the floor or the reheat coil holds the condensing
    temperature up: power in proportion to the conductance needed, or to its cube."""
    surface_floor: Annotated[float, *quantity("temperature")] = parse("32 degF", "temperature")
    """The coil surface is not let below this: frost."""
    table: str | None = None
    """CSV of the performance table, relative to the case file."""
    table_columns: dict[str, str] | None = None
    """Which of its columns holds what."""
    compressor_map: str | None = None
    """TOML file of the compressor's ten coefficients (AHRI 540 form), relative to the case file."""
    re_evaporation: ReEvaporation | None = None
    """Water going back into the room from the stopped coil; default none."""

    @model_validator(mode="after")
    def _agree(self) -> Unit:
        if self.method == "table" and self.table is None:
            raise InputError('method = "table" needs table = "unit.csv", a performance table')
        if self.method == "compressor map" and self.compressor_map is None:
            raise InputError(
                'method = "compressor map" needs compressor_map = "compressor.toml", the file of '
                "the ten coefficients"
            )
        if self.method == "table" and self.capacity_control != "cycling":
            raise InputError(
                "a performance table holds full displacement only; write capacity_control = "
                '"cycling", or method = "ratings"'
            )
        if self.method != "table":
            self._check_rating()
        if self.condensing_floor >= self.condensing_ceiling:
            raise InputError(
                f'condensing_floor "{written(self.condensing_floor)}" is not below '
                f'condensing_ceiling "{written(self.condensing_ceiling)}"; lower the one or raise '
                "the other"
            )
        if float(self.condensing_ceiling) > HIGHEST_CONDENSING_C:
            raise InputError(
                f'condensing_ceiling "{written(self.condensing_ceiling)}" is hotter than the '
                'compressor and its refrigerant are known for; write at most "149 degF"'
            )
        if self.minimum_run_time is not None and float(self.minimum_run_time) > 3600.0:
            raise InputError(
                f'minimum_run_time "{written(self.minimum_run_time)}" is longer than an hour; '
                'write for example "5 min"'
            )
        if self.rated_entering_wet_bulb > self.rated_entering_dry_bulb:
            raise InputError(
                "rated_entering_wet_bulb is above rated_entering_dry_bulb; "
                'write for example "67 degF" and "80 degF"'
            )
        if self.capacity_control == "stages":
            self._check_stages()
        elif self.stages:
            raise InputError('stages are given, yet capacity_control is not "stages"; set it so')
        return self

    def _check_rating(self) -> None:
        if self.total_capacity is None:
            raise InputError('total_capacity is missing; write for example "7.5 ton"')
        require_one(self, "unit", ('efficiency = "11.2 EER"', 'sensible_heat_ratio = "74 %"'))
        if self.sensible_capacity is not None and self.sensible_capacity > self.total_capacity:
            raise InputError(
                f'sensible_capacity "{written(self.sensible_capacity)}" is above total_capacity '
                f'"{written(self.total_capacity)}"; it is part of it'
            )

    def _check_stages(self) -> None:
        stages = self.stages
        rising = all(a < b for a, b in pairwise(stages))
        if not stages or stages[-1] != 1.0 or not rising:
            raise InputError('stages must rise to 100 %; write for example ["50 %", "100 %"]')
        if len(stages) > 4:
            raise InputError(f"{len(stages)} stages are given; write at most four")


def _as_text(value: object) -> object:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return f"{value:g}" if is_number else value


LimitText = Annotated[str, BeforeValidator(_as_text)]
HumidityControl = Literal["none", "relative humidity", "dew point"]


class Humidity(Section):
    """The limit that control enforces and the range that hours are counted against."""

    control: HumidityControl = "none"
    """What the humidity controller measures."""
    limit: LimitText | None = None
    """A humidity such as "55 %" or a dew point such as "55 degF", as control says."""
    limit_unoccupied: LimitText | None = None
    """The limit of unoccupied hours; default the same."""
    priority: Literal["temperature first", "humidity first"] = "temperature first"
    """What gives way where reheat runs short: drying, or the temperature."""
    range_low: Annotated[float, *quantity("fraction")] = parse("30 %", "fraction")
    """Relative humidity below which hours are counted."""
    range_high: Annotated[float, *quantity("fraction")] = parse("60 %", "fraction")
    """Relative humidity above which hours are counted."""
    criteria: tuple[str, ...] = ()
    """Published humidity criteria that the year is judged against, by key."""
    own_criteria: tuple[OwnCriterion, ...] = ()
    """The same by limits of your own, one table each."""
    cold_surface_factor: Annotated[float, *quantity("fraction")] = parse("75 %", "fraction")
    """Coldest inside surface judged for mould: its share of the way from outdoor to room
    temperature. Default: common practice for the corners of a sound envelope, no source."""
    cold_surface_temperature: Annotated[float, *quantity("temperature")] | None = None
    """A surface kept at this temperature, such as a cold pipe or duct, judged for mould instead."""

    @field_validator("criteria")
    @classmethod
    def _criteria(cls, value: tuple[str, ...]) -> tuple[str, ...]:
        from estimator.humidity import criterion  # numba comes with it

        for key in value:
            criterion(key)
        return value

    @model_validator(mode="after")
    def _agree(self) -> Humidity:
        if self.range_low >= self.range_high:
            raise InputError(
                f'the humidity range crosses: range_low "{written(self.range_low)}" is not below '
                f'range_high "{written(self.range_high)}"; lower the one or raise the other'
            )
        if self.control == "none":
            return self
        if self.limit is None:
            example = "55 %" if self.control == "relative humidity" else "55 degF"
            raise InputError(
                f'control = "{self.control}" needs a limit; write for example limit = "{example}"'
            )
        for name in ("limit", "limit_unoccupied"):
            text = getattr(self, name)
            if text is None:
                continue
            value = self._parsed(name, text)
            if self.control == "relative humidity" and value < self.range_low:
                raise InputError(
                    f'{name} "{text}" is below range_low "{written(self.range_low)}": the unit '
                    "would dry the room out of its own range; raise the limit or lower the range"
                )
        return self

    def _parsed(self, name: str, text: str) -> Measured:
        kind = "fraction" if self.control == "relative humidity" else "temperature"
        try:
            return parse(text, kind)
        except InputError as error:
            raise InputError(f'{name} (control = "{self.control}"): {error}') from None

    @property
    def limit_value(self) -> float:
        """The limit as a fraction or a dew point [C], as ``control`` says."""
        if self.limit is None:
            raise ValueError("no humidity control")
        return float(self._parsed("limit", self.limit))

    @property
    def limit_unoccupied_value(self) -> float | None:
        """The limit of unoccupied hours, None where it is the same."""
        text = self.limit_unoccupied
        return None if text is None else float(self._parsed("limit_unoccupied", text))


# Heat out over energy in where the case does not say. A condensate-free gas furnace and a boiler
# with its pipes: common practice, no source.
EFFECTIVENESS = {"condenser": "60 %", "subcooling": "80 %", "wrap-around": "40 %"}
REHEAT_EFFICIENCY = {"electric": "100 %", "gas": "80 %", "hot water": "80 %"}
HEATING_EFFICIENCY = REHEAT_EFFICIENCY | {"heat pump": "3 COP"}


class Reheat(Section):
    """One source of reheat; sources are used in the order they are listed."""

    following: ClassVar[frozenset[str]] = frozenset({"efficiency", "effectiveness"})

    source: Literal["condenser", "subcooling", "wrap-around", "electric", "gas", "hot water"]
    """Where the heat is from: the condenser, warm liquid refrigerant, a sensible loop around the
    cooling coil, or bought energy."""
    control: Literal["modulating", "on/off"] = "modulating"
    """How the valve of a "condenser" source works."""
    capacity: Annotated[float, *quantity("heat flow")] | None = None
    """Most heat it gives; default not limited by size."""
    efficiency: Annotated[float, *quantity("fraction", above_zero=True)] | None = None
    """Heat out over energy in; default electric 100 %, gas 80 %, hot water 80 %."""
    effectiveness: Annotated[float, *quantity("fraction", above_zero=True)] | None = None
    """Of the coil. Condenser: temperature rise over condensing less entering temperature, default
    60 %. Subcooling: liquid cooling over liquid less air temperature, default 80 %. Wrap-around:
    precooling over entering less leaving-coil temperature, default 40 %. Common practice."""
    rated_heat: Annotated[float, *quantity("heat flow", above_zero=True)] | None = None
    """Of a "condenser" coil, instead of effectiveness: its heat at rated_condensing,
    rated_entering and the supply flow."""
    rated_condensing: Annotated[float, *quantity("temperature")] = parse("120 degF", "temperature")
    """Condensing temperature of rated_heat."""
    rated_entering: Annotated[float, *quantity("temperature")] = parse("55 degF", "temperature")
    """Air onto the reheat coil at rated_heat."""
    pressure_drop: Annotated[float, *quantity("pressure")] = parse("0 Pa", "pressure")
    """Air pressure drop it adds all year; the fan makes it up."""
    auxiliary_power: Annotated[float, *quantity("power")] = parse("0 W", "power")
    """Pumps, valves and burners while it runs."""

    @model_validator(mode="after")
    def _agree(self) -> Reheat:
        if self.control == "on/off" and self.source != "condenser":
            raise InputError(
                f'control = "on/off" belongs to source = "condenser", not "{self.source}"; '
                "leave it out"
            )
        if self.rated_heat is not None and self.source != "condenser":
            raise InputError(
                f'rated_heat belongs to source = "condenser", not "{self.source}"; write '
                "effectiveness or capacity"
            )
        if self.source in EFFECTIVENESS:
            if self.efficiency is not None:
                raise InputError(
                    f'source = "{self.source}" buys no heat and has no efficiency; write '
                    "effectiveness"
                )
            if self.rated_heat is not None and self.effectiveness is not None:
                raise InputError("effectiveness and rated_heat are both given; keep the one meant")
            if self.effectiveness is None:
                self.fill("effectiveness", parse(EFFECTIVENESS[self.source], "fraction"))
            return self
        if self.effectiveness is not None:
            raise InputError(
                f'effectiveness belongs to recovered heat, not to source = "{self.source}"; '
                "leave it out or write efficiency"
            )
        if self.efficiency is None:
            self.fill("efficiency", parse(REHEAT_EFFICIENCY[self.source], "fraction"))
        return self


class CoilSizing(Section):
    """What a condenser-heat coil, and its condensing ceiling, are sized for."""

    share: Annotated[float, *quantity("fraction", above_zero=True)] = parse("99 %", "fraction")
    """Share of the year's overcooling heat that the coil is to cover."""
    hours: Annotated[int, Field(ge=0, le=8760)] = 20
    """The other aim: hours of the year in which some of the heat may come from elsewhere."""


class Heating(Section):
    """Space heating in hours without cooling; it is not reheat."""

    following: ClassVar[frozenset[str]] = frozenset({"efficiency"})

    source: Literal["gas", "electric", "hot water", "heat pump"] = "gas"
    """What the heat is made from."""
    efficiency: Annotated[float, *quantity("efficiency", above_zero=True)] | None = None
    """Heat out over energy in; default gas and hot water 80 %, electric 100 %, heat pump 3 COP."""
    capacity: Annotated[float, *quantity("heat flow", above_zero=True)] | None = None
    """Most heat it gives; default not limited by size."""

    @model_validator(mode="after")
    def _fill(self) -> Heating:
        if self.efficiency is None:
            self.fill("efficiency", parse(HEATING_EFFICIENCY[self.source], "efficiency"))
        elif self.source != "heat pump" and self.efficiency > 1.0:
            raise InputError(
                f'efficiency "{written(self.efficiency)}" is above 100 %; '
                'only source = "heat pump" can give more heat than it takes'
            )
        return self
