"""The reheat sources of an option, and the sizing of their coil."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import BeforeValidator, Field, model_validator

from dewledger.case.base import Section
from dewledger.quantities import parse, quantity
from dewledger.weather.errors import InputError

# Heat out over energy in where the case does not say. A condensate-free gas furnace and a boiler
# with its pipes: common practice, no source.
EFFECTIVENESS = {"condenser": "60 %", "subcooling": "80 %", "wrap-around": "40 %"}


REHEAT_EFFICIENCY = {"electric": "100 %", "gas": "80 %", "hot water": "80 %"}


def _hot_gas_is_condenser_heat(value: object) -> object:
    return "condenser" if value == "hot gas" else value


class Reheat(Section):
    """One source of reheat; sources are used in the order they are listed."""

    following: ClassVar[frozenset[str]] = frozenset({"efficiency", "effectiveness"})

    source: Annotated[
        Literal["condenser", "subcooling", "wrap-around", "electric", "gas", "hot water"],
        BeforeValidator(_hot_gas_is_condenser_heat),
    ]
    """Where the heat is from: the condenser, warm liquid refrigerant, a sensible loop around the
    cooling coil, or purchased energy. "hot gas" is read as "condenser"."""
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
