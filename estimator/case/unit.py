"""The tables [unit], [humidity], [[reheat]] and [heating] of a case."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, ClassVar, Literal

from pydantic import Field, field_validator, model_validator

from dewledger.case.base import Section, require_one
from dewledger.case.reheat import REHEAT_EFFICIENCY
from dewledger.case.words import written
from dewledger.quantities import parse, quantity
from dewledger.weather.errors import InputError

# Edge of the maps of compressors and refrigerants: 149 F.
HIGHEST_CONDENSING_C = 65.0
# Minimum condensing temperature in hours with reheat (common practice, no source).
REHEAT_FLOOR = "105 degF"


class ReEvaporation(Section):
    """Water that goes from the stopped coil back into the room while the fan runs on.

    Henderson and Rengarajan, ASHRAE Transactions 102(1), 1996, paper 3958. The equation is
    published; its inputs are the middle of their usual spans, not checked against the report.
    """

    model: Literal["wet coil", "none"] = "wet coil"
    """Whether a stopped coil re-evaporates water while the fan runs on, or "none"."""
    wet_time: Annotated[float, *quantity("time", above_zero=True)] = parse("1060 s", "time")
    """Retained water over the latent capacity at the rating; usual span 720 to 1400 s."""
    gamma: Annotated[float, *quantity("number")] = parse(1.25, "number")
    """Evaporation when the coil stops over the latent capacity at the rating; usual span 1.0 to
    1.5."""
    start_up_time: Annotated[float, *quantity("time")] = parse("62 s", "time")
    """Time constant of the latent capacity after a start; usual span 45 to 80 s."""
    cycles_per_hour: Annotated[float, *quantity("number", above_zero=True)] = parse(2.8, "number")
    """Most starts in an hour of a thermostat call, at half load; usual span 2.5 to 3.1. Starts of a
    dehumidification call follow [humidity] differential and the room's moisture store."""

    @field_validator("model", mode="before")
    @classmethod
    def _model(cls, value: object) -> object:
        if value == "Henderson-Rengarajan":
            raise InputError('model "Henderson-Rengarajan" is now called "wet coil"; write that')
        return value


class Unit(Section):
    """The cooling unit: its rating, its refrigerant and its controls."""

    # Suction and condensing temperature count as assumed until they are given.
    following: ClassVar[frozenset[str]] = frozenset(
        {
            "rated_flow",
            "rated_suction",
            "rated_condensing",
            "cycling_form",
            "cycling_degradation",
            "drying_control",
            "drying_leaving_temperature",
        }
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
    compressor_curve: Literal["scroll", "constant"] = "scroll"
    """Compressor efficiency over pressure ratio: the shape of a published scroll compressor, scaled
    to the rating, or constant."""
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
    """Least time the compressor runs once started; it limits the starts in an hour. Default: not
    limited in a thermostat call, 5 min in a dehumidification call (thermostat manual)."""
    cycling_form: Literal["commercial", "residential"] = "commercial"
    """What cycling costs. "commercial": power at load factor LF is LF x (1.13 - 0.13 LF) of that at
    full load (AHRI 340/360). "residential": PLF = 1 - Cd (1 - PLR) (AHRI 210/240). Neither was
    checked against the text."""
    cycling_degradation: Annotated[float, *quantity("fraction")] | None = None
    """Cd of the "residential" form, which it selects; default then 25 %. 0 means no loss."""
    drying_control: Literal["least overcooling", "all stages", "leaving air"] = "least overcooling"
    """How a unit of "variable" capacity or "stages" dries in a dehumidification call: by the stage
    and surface that remove the water with the least reheat load, by all of its displacement, or at
    drying_leaving_temperature, which selects that."""
    drying_leaving_temperature: Annotated[float, *quantity("temperature")] = parse(
        "55 degF", "temperature"
    )
    """Air off the coil, or colder, in a dehumidification call by "leaving air". Default: common
    practice, no source."""
    condensing_floor: Annotated[float, *quantity("temperature")] = parse("96 degF", "temperature")
    """Head-pressure control keeps the condensing temperature at or above this. Default: 300 psig of
    R-410A, as a wall unit's head-pressure control holds it (wall-unit manual 2100-538)."""
    reheat_condensing_floor: Annotated[float, *quantity("temperature")] | None = None
    """The same in hours with reheat from the condenser, where head-pressure control is set higher.
    Default: 105 degF (common practice, no source; 96 to 115 degF in use), or condensing_floor where
    that is higher."""
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
    re_evaporation: ReEvaporation = Field(default_factory=ReEvaporation)
    """Water going back into the room from the stopped coil, where the fan runs on while the
    compressor cycles."""

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
        self._check_part_load()
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

    def _check_part_load(self) -> None:
        given = self.model_fields_set
        if self.cycling_degradation is not None:
            if "cycling_form" in given and self.cycling_form == "commercial":
                raise InputError(
                    'cycling_degradation belongs to cycling_form = "residential", and "commercial" '
                    "is written; keep the one meant"
                )
            self.fill("cycling_form", "residential")
        elif self.cycling_form == "residential":
            self.fill("cycling_degradation", parse("25 %", "fraction"))
        if "drying_leaving_temperature" in given:
            if "drying_control" in given and self.drying_control != "leaving air":
                raise InputError(
                    'drying_leaving_temperature belongs to drying_control = "leaving air", and '
                    f'"{self.drying_control}" is written; keep the one meant'
                )
            self.fill("drying_control", "leaving air")
        if self.reheat_condensing_floor is None:
            return
        if not self.condensing_floor <= self.reheat_condensing_floor < self.condensing_ceiling:
            raise InputError(
                f'reheat_condensing_floor "{written(self.reheat_condensing_floor)}" is not between '
                f'condensing_floor "{written(self.condensing_floor)}" and condensing_ceiling '
                f'"{written(self.condensing_ceiling)}"; write one that is'
            )

    @property
    def floor_in_reheat_C(self) -> float:
        """Minimum condensing temperature [C] in hours with reheat from the condenser."""
        if self.reheat_condensing_floor is not None:
            return float(self.reheat_condensing_floor)
        usual = min(float(parse(REHEAT_FLOOR, "temperature")), float(self.condensing_ceiling))
        return max(usual, float(self.condensing_floor))

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
