"""The reheat sources of an option, and the sizing of their coil."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import BeforeValidator, Field, model_validator

from dewledger.case.base import Section
from dewledger.case.words import written
from dewledger.quantities import parse, quantity
from dewledger.weather.errors import InputError

# Heat out over energy in where the case does not say. A condensate-free gas furnace and a boiler
# with its pipes: common practice, no source.
EFFECTIVENESS = {"condenser": "60 %", "subcooling": "80 %", "wrap-around": "40 %"}


# Water-source heat pump guides: 0.10, 0.14, 0.17 and 0.20 inH2O at 250, 300, 350 and 400 fpm.
LOCKOUT_BELOW = "40 degF"
CONDENSER_COIL_DROP = "0.15 inH2O"


REHEAT_EFFICIENCY = {"electric": "100 %", "gas": "80 %", "hot water": "80 %"}


# Other words for condenser heat; a hint from them to "gas" would be a purchased source.
_CONDENSER_HEAT = {"hotgas", "hotgasreheat", "hgrh", "condenserheat", "condenserreheat"}


def _hot_gas_is_condenser_heat(value: object) -> object:
    word = "".join(filter(str.isalpha, value)).lower() if isinstance(value, str) else ""
    return "condenser" if word in _CONDENSER_HEAT else value


class Reheat(Section):
    """One source of reheat; sources are used in the order they are listed."""

    # The controls of a condenser source stand in no other source's table.
    following: ClassVar[frozenset[str]] = frozenset(
        {
            *("efficiency", "effectiveness", "pressure_drop", "lockout_below", "lockout_above"),
            *("valve_low", "valve_high", "purge", "circuits", "reheat_fan_share"),
        }
    )

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
    pressure_drop: Annotated[float, *quantity("pressure")] | None = None
    """Air pressure drop it adds whenever the fan runs, which makes it up. Default: a "condenser"
    coil 0.15 inH2O (water-source heat pump guides: 0.10 to 0.20 at 250 to 400 fpm), others 0."""
    lockout_below: Annotated[float, *quantity("temperature")] | None = None
    """Outdoor temperature below which a "condenser" source stays off. Default: 40 degF (rooftop
    installation manual 551C, p. 50, and a rooftop control manual)."""
    lockout_above: Annotated[float, *quantity("temperature")] | None = None
    """Outdoor temperature above which it stays off; default none. 100 degF where one compressor
    serves (rooftop control manual)."""
    valve_low: Annotated[float, *quantity("fraction")] = parse("0 %", "fraction")
    """Least share of the heat rejected that the open reheat valve passes; 10 to 15 % is usual
    (rooftop control manuals). Below it the valve opens and closes."""
    valve_high: Annotated[float, *quantity("fraction", above_zero=True)] = parse(
        "100 %", "fraction"
    )
    """Most it passes; 85 % is usual (rooftop control manual)."""
    purge: Annotated[float, *quantity("time")] = parse("0 s", "time")
    """Time in each hour with reheat that pump-out takes from it; 3 min is usual (rooftop control
    manual)."""
    circuits: Annotated[float, *quantity("fraction", above_zero=True)] = parse("100 %", "fraction")
    """Share of the unit's circuits with reheat; often one of two (rooftop manual IM 1058)."""
    reheat_fan_share: Annotated[float, *quantity("fraction", above_zero=True)] = parse(
        "100 %", "fraction"
    )
    """Outdoor fans left running in reheat, more where head pressure needs them; of three, one or
    two are usual (rooftop control manual)."""
    auxiliary_power: Annotated[float, *quantity("power")] = parse("0 W", "power")
    """Pumps, valves and burners while it runs."""

    @model_validator(mode="after")
    def _agree(self) -> Reheat:
        if self.control == "on/off" and self.source != "condenser":
            raise InputError(
                f'control = "on/off" belongs to source = "condenser", not "{self.source}"; '
                "leave it out"
            )
        self._check_controls()
        if self.pressure_drop is None:
            drop = CONDENSER_COIL_DROP if self.source == "condenser" else "0 Pa"
            self.fill("pressure_drop", parse(drop, "pressure"))
        if self.rated_heat is not None and self.source != "condenser":
            raise InputError(
                f'rated_heat belongs to source = "condenser", not "{self.source}"; write '
                "effectiveness or capacity"
            )
        if self.source in EFFECTIVENESS:
            if self.efficiency is not None:
                raise InputError(
                    f'source = "{self.source}" purchases no heat and has no efficiency; write '
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

    def _check_controls(self) -> None:
        if self.source != "condenser":
            for name in _CONTROLS:
                if name in self.model_fields_set:
                    raise InputError(
                        f'{name} belongs to source = "condenser", not "{self.source}"; leave it out'
                    )
            return
        if self.lockout_below is None:
            self.fill("lockout_below", parse(LOCKOUT_BELOW, "temperature"))
        low, high = self.lockout_below, self.lockout_above
        if low is not None and high is not None and low >= high:
            raise InputError(
                f'lockout_below "{written(low)}" is not below lockout_above "{written(high)}": the '
                "source would never serve; lower the one or raise the other"
            )
        for name in ("valve_low", "valve_high", "circuits", "reheat_fan_share"):
            if getattr(self, name) > 1.0:
                raise InputError(
                    f'{name} "{written(getattr(self, name))}" is above 100 %; write a share'
                )
        if self.valve_low >= self.valve_high:
            raise InputError(
                f'valve_low "{written(self.valve_low)}" is not below valve_high '
                f'"{written(self.valve_high)}"; write for example "15 %" and "85 %"'
            )
        if float(self.purge) >= 3600.0:
            raise InputError(
                f'purge "{written(self.purge)}" takes the whole hour; write for example "3 min"'
            )


_CONTROLS = (
    "lockout_below",
    "lockout_above",
    "valve_low",
    "valve_high",
    "purge",
    "circuits",
    "reheat_fan_share",
)


class CoilSizing(Section):
    """What a condenser-heat coil, and its condensing ceiling, are sized for."""

    share: Annotated[float, *quantity("fraction", above_zero=True)] = parse("99 %", "fraction")
    """Share of the year's overcooling heat that the coil is to cover."""
    hours: Annotated[int, Field(ge=0, le=8760)] = 20
    """The other aim: hours of the year in which some of the heat may come from elsewhere."""
