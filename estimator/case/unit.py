"""The tables [unit], [humidity], [[reheat]] and [heating] of a case."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, ClassVar, Literal

from pydantic import model_validator

from dewledger.case.base import Section, require_one
from dewledger.case.reheat import REHEAT_EFFICIENCY
from dewledger.case.words import written
from dewledger.quantities import parse, quantity
from dewledger.weather.errors import InputError

# Edge of the maps of compressors and refrigerants: 149 F.
HIGHEST_CONDENSING_C = 65.0


class ReEvaporation(Section):
    """Water that goes from the stopped coil back into the room while the fan runs on.

    Model of Henderson and Rengarajan, ASHRAE Transactions 102(1), 1996; typical values not
    checked against the text.
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


HEATING_EFFICIENCY = REHEAT_EFFICIENCY | {"heat pump": "3 COP"}


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
