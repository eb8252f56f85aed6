"""The table [air] of a case: supply air, its fan, and outdoor air."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import model_validator

from dewledger.case.base import Section, require_one
from dewledger.case.conditioning import Economizer, Recovery
from dewledger.case.words import written
from dewledger.quantities import parse, quantity
from dewledger.weather.errors import InputError

FanMode = Literal["continuous", "cycling", "off"]


def check_outdoor_air(air: Air) -> None:
    """InputError where outdoor air, its devices and the flow control do not agree."""
    given = air.model_fields_set
    rates = [name for name in ("outdoor_per_person", "outdoor_per_area") if name in given]
    if rates and "outdoor_flow" in given:
        raise InputError(f"outdoor_flow and {rates[0]} are both given; keep the one meant")
    if air.exhaust_profile is not None and air.exhaust_flow is None:
        raise InputError(
            "exhaust_profile is given without exhaust_flow; write for example "
            'exhaust_flow = "600 cfm"'
        )
    shares = air.recovery is not None and "exhaust_share" in air.recovery.model_fields_set
    if shares and air.exhaust_flow is None:
        raise InputError(
            "[air.recovery] exhaust_share is given without [air] exhaust_flow; write for "
            'example exhaust_flow = "600 cfm"'
        )
    if air.demand_control and air.outdoor_per_person is None:
        raise InputError(
            "demand_control needs outdoor air by people; write for example "
            'outdoor_per_person = "7.5 cfm/person"'
        )
    if air.economizer is not None:
        if air.fan != "continuous":
            raise InputError('an economizer needs fan = "continuous"; set it so')
        most = air.economizer.flow
        if most is not None and most > air.supply_flow:
            raise InputError(
                f'economizer flow "{written(most)}" is above supply_flow '
                f'"{written(air.supply_flow)}"; the outdoor air is part of the supply air'
            )
        if air.recovery is not None and not air.recovery.bypass:
            raise InputError(
                "an economizer with a recovery device needs bypass = true in [air.recovery]"
            )
    if air.flow_control == "constant":
        stray = [name for name in _FLOW_FIELDS if name in given]
        if stray:
            raise InputError(
                f'{stray[0]} is given, yet flow_control is "constant"; write "two-speed" or '
                '"variable"'
            )
        return
    if air.fan != "continuous" or air.fan_unoccupied == "cycling":
        raise InputError(
            f'flow_control = "{air.flow_control}" needs a continuous fan; write fan = '
            '"continuous", and fan_unoccupied "continuous" or "off"'
        )
    if air.flow_control == "two-speed":
        stray = [name for name in _VARIABLE_FIELDS if name in given]
        if stray:
            raise InputError(
                f'{stray[0]} belongs to flow_control = "variable", not "two-speed"; leave it out'
            )
    if air.reset_from >= air.reset_to:
        raise InputError(
            f'reset_from "{written(air.reset_from)}" is not below reset_to '
            f'"{written(air.reset_to)}"; lower the one or raise the other'
        )
    mild = air.leaving_temperature_mild
    stray = [name for name in ("reset_from", "reset_to") if name in given]
    if stray and mild is None:
        raise InputError(
            f"{stray[0]} resets nothing without leaving_temperature_mild; write both or neither"
        )
    if mild is not None and mild < air.leaving_temperature:
        raise InputError(
            f'leaving_temperature_mild "{written(mild)}" is below leaving_temperature '
            f'"{written(air.leaving_temperature)}"; the air may only be warmer in mild weather'
        )


_VARIABLE_FIELDS = (
    "leaving_temperature",
    "leaving_temperature_mild",
    "reset_from",
    "reset_to",
)
# What chooses the flow by the room's load.
FLOW_BY_LOAD = ("flow_before_reheat", "least_flow_per_capacity", *_VARIABLE_FIELDS)
_FLOW_FIELDS = ("minimum_flow", "set_pressure", *FLOW_BY_LOAD)
# Two makers' tables of 3-ton and 10-ton units begin at this flow for each ton (package series 558D,
# product data p. 18; rooftop series 580J, product data table 29, p. 49).
LEAST_FLOW_PER_CAPACITY = "300 cfm/ton"


_AIR_J_M3_K = 1.204 * 1006.0  # standard air
_HIGHEST_FAN_RISE_K = 20.0


class Air(Section):
    """Supply air, outdoor air and the supply fan."""

    following: ClassVar[frozenset[str]] = frozenset({"outdoor_flow", *_FLOW_FIELDS})

    supply_flow: Annotated[float, *quantity("air flow", above_zero=True)]
    """Air through the unit while its fan runs."""
    flow_basis: Literal["standard", "actual"] = "standard"
    """Whether flows are of standard air (0.075 lb/ft3, 1.204 kg/m3) or of the room's air."""
    outdoor_flow: Annotated[float, *quantity("air flow")] = parse("0 cfm", "air flow")
    """Outdoor air in the supply air at full ventilation."""
    outdoor_profile: str = "occupied"
    """Profile of the outdoor air."""
    outdoor_in_morning_recovery: bool = False
    """Whether outdoor air follows its profile in the hours of [schedule] morning_recovery too;
    otherwise it is shut then."""
    exhaust_flow: Annotated[float, *quantity("air flow")] | None = None
    """Air that exhaust fans take out of the room; what it takes beyond the unit's outdoor air comes
    in as infiltration. Default as much as outdoor air comes in. Fan power of the exhaust is not
    counted here."""
    exhaust_profile: str | None = None
    """Profile of the exhaust; default that of the outdoor air."""
    fan: Literal["continuous", "cycling"] = "continuous"
    """Whether the fan runs on between calls in occupied hours."""
    fan_unoccupied: FanMode | None = None
    """The same in unoccupied hours, or "off"; default as occupied."""
    fan_power: Annotated[float, *quantity("power")] | None = None
    """Electric power of the supply fan; all of it warms the air."""
    fan_pressure: Annotated[float, *quantity("pressure")] | None = None
    """Total pressure rise of the fan, with fan_efficiency instead of fan_power."""
    fan_efficiency: Annotated[float, *quantity("fraction", above_zero=True)] | None = None
    """Fan, drive and motor together: air power over electric power."""
    fan_position: Literal["draw-through", "blow-through"] = "draw-through"
    """Fan after or before the cooling coil."""
    outdoor_per_person: Annotated[float, *quantity("air flow per person")] | None = None
    """Outdoor air for each person of [loads.people], with or without outdoor_per_area, instead of
    outdoor_flow."""
    outdoor_per_area: Annotated[float, *quantity("air flow per area")] | None = None
    """Outdoor air for each floor area."""
    demand_control: bool = False
    """Whether outdoor_per_person follows the people present; outdoor_per_area follows
    outdoor_profile either way."""
    flow_control: Literal["constant", "two-speed", "variable"] = "constant"
    """How the supply flow follows the sensible load of the room."""
    minimum_flow: Annotated[float, *quantity("fraction", above_zero=True)] = parse(
        "50 %", "fraction"
    )
    """Least supply flow, or the low speed, over supply_flow."""
    least_flow_per_capacity: Annotated[float, *quantity("air flow per capacity")] = parse(
        LEAST_FLOW_PER_CAPACITY, "air flow per capacity"
    )
    """Least supply flow for each ton in use, so that the coil does not freeze: with less, no more
    of the displacement runs, or the flow goes up. The unit's product data give it; default the
    least flow that those of two units list (package series 558D, p. 18; rooftop series 580J, table
    29). 0 bounds nothing."""
    set_pressure: Annotated[float, *quantity("fraction")] = parse("30 %", "fraction")
    """Share of the fan's pressure that is held at any flow; the rest falls with its square."""
    leaving_temperature: Annotated[float, *quantity("temperature")] = parse(
        "55 degF", "temperature"
    )
    """Air off the coil that a "variable" flow is chosen for."""
    leaving_temperature_mild: Annotated[float, *quantity("temperature")] | None = None
    """The same at and below reset_from outdoors; default no reset."""
    reset_from: Annotated[float, *quantity("temperature")] = parse("60 degF", "temperature")
    """Outdoor temperature of leaving_temperature_mild."""
    reset_to: Annotated[float, *quantity("temperature")] = parse("80 degF", "temperature")
    """Outdoor temperature at and above which leaving_temperature holds."""
    flow_before_reheat: bool = True
    """In a dehumidification call, whether the flow goes down to its least before reheat is used."""
    recovery: Recovery | None = None
    """A recovery device on the outdoor air."""
    economizer: Economizer | None = None
    """More outdoor air for cooling."""

    @model_validator(mode="after")
    def _agree(self) -> Air:
        if self.outdoor_flow > self.supply_flow:
            raise InputError(
                f'outdoor_flow "{written(self.outdoor_flow)}" is above supply_flow '
                f'"{written(self.supply_flow)}"; it is part of it: lower the one or raise the other'
            )
        require_one(self, "air", ('fan_power = "1.5 hp"',))
        self._check_fan()
        check_outdoor_air(self)
        return self

    def _check_fan(self) -> None:
        """A fan that would make a furnace of the air has a slip in its power or pressure."""
        if self.fan_power is not None:
            rise_K = self.fan_power / (self.supply_flow * _AIR_J_M3_K)
            what = f'fan_power "{written(self.fan_power)}"'
        elif self.fan_pressure is not None and self.fan_efficiency:
            rise_K = self.fan_pressure / (self.fan_efficiency * _AIR_J_M3_K)
            what = f'fan_pressure "{written(self.fan_pressure)}"'
        else:
            return
        if rise_K > _HIGHEST_FAN_RISE_K:
            raise InputError(
                f"{what} would warm the supply air by {rise_K:.3g} K, where fans do by 1 to 2 K; "
                "check it and supply_flow"
            )
