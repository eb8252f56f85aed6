"""What of a case may be otherwise: the tables [ranges], how far assumptions may be off, and
[sweep], which values to vary."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, field_validator

from dewledger.case.base import Section
from dewledger.case.words import as_text
from dewledger.quantities import Measured, parse
from dewledger.weather.errors import InputError


def _two_texts(value: Any) -> Any:
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise InputError('a low and a high end are expected; write for example ["80 %", "120 %"]')
    return [as_text(end) for end in value]


Ends = Annotated[tuple[str, str], BeforeValidator(_two_texts)]


_ENDS = (
    *("set_point", "outdoor_air", "gains", "infiltration", "moisture_storage"),
    *("rated_capacity", "rated_efficiency", "coil_effectiveness", "electricity_price"),
    *("gas_price", "wet_time", "gamma", "start_up_time", "cycles_per_hour", "differential"),
    *("minimum_run_time", "condensing_floor", "reheat_condensing_floor", "lockout_above"),
    *("valve_low", "valve_high", "purge", "circuits", "reheat_fan_share"),
    "least_flow_per_capacity",
)


class Ranges(Section):
    """Ranges for --sensitivity instead of the default ones: each the low and the high end.

    Most are factors on the case's own value, whose 100 % lies between the ends; an end may be
    100 %, and both hold the value fixed.
    """

    reason: str = "stated in the case"
    """Why these ranges; quoted with each of them."""
    set_point: Ends | None = None
    """Of the humidity limit, such as ["-3 %", "3 %"] of relative humidity, or ["-2 degF", "2 degF"]
    where it is a dew point."""
    outdoor_air: Ends | None = None
    """Such as ["80 %", "120 %"] of the outdoor air of the case."""
    gains: Ends | None = None
    """Of heat and moisture gains alike."""
    infiltration: Ends | None = None
    """Of the infiltration of the case."""
    moisture_storage: Ends | None = None
    """Of the moisture the room stores."""
    rated_capacity: Ends | None = None
    """Of the unit's rated capacity."""
    rated_efficiency: Ends | None = None
    """Of the unit's rated efficiency."""
    coil_effectiveness: Ends | None = None
    """Of coils and loops that recover heat: a difference, such as ["-10 %", "5 %"]."""
    wet_time: Ends | None = None
    """Of [unit.re_evaporation] wet_time; default its usual span, 720 to 1400 s."""
    gamma: Ends | None = None
    """Of gamma; default its usual span, 1.0 to 1.5."""
    start_up_time: Ends | None = None
    """Of start_up_time; default its usual span, 45 to 80 s."""
    cycles_per_hour: Ends | None = None
    """Of cycles_per_hour; default its usual span, 2.5 to 3.1."""
    differential: Ends | None = None
    """Of [humidity] differential; default 2 to 5 % about 3 % RH."""
    minimum_run_time: Ends | None = None
    """Of [unit] minimum_run_time: how much longer, such as ["0 min", "5 min"], the default."""
    condensing_floor: Ends | None = None
    """Of [unit] condensing_floor: a difference; default ["-10 degF", "9 degF"], which spans 86 to
    105 degF about 96 degF (common practice, no source)."""
    reheat_condensing_floor: Ends | None = None
    """Of [unit] reheat_condensing_floor: a difference, such as ["-9 degF", "10 degF"], the default,
    which spans 96 to 115 degF about 105 degF."""
    lockout_above: Ends | None = None
    """Of the lockout_above of a "condenser" source, 130 degF where none is stated: a difference;
    default, where none is stated, ["-30 degF", "0 degF"], down to 100 degF."""
    valve_low: Ends | None = None
    """Of its valve_low: a difference; default, where it is not stated, ["0 %", "15 %"]."""
    valve_high: Ends | None = None
    """Of its valve_high: a difference; default, where it is not stated, ["-15 %", "0 %"]."""
    purge: Ends | None = None
    """Of its purge: how much longer; default, where it is not stated, ["0 min", "3 min"]."""
    least_flow_per_capacity: Ends | None = None
    """Of [air] least_flow_per_capacity; default ["83 %", "117 %"], which spans 250 to 350 cfm/ton
    about 300 cfm/ton (common practice, no source)."""
    circuits: Ends | None = None
    """Of its circuits; default, where they are not stated, ["50 %", "100 %"]."""
    reheat_fan_share: Ends | None = None
    """Of its reheat_fan_share; default, where it is not stated, ["33 %", "100 %"]."""
    electricity_price: Ends | None = None
    """Of energy and demand prices."""
    gas_price: Ends | None = None
    """Of the price of gas."""

    @field_validator("reason")
    @classmethod
    def _reason(cls, value: str) -> str:
        if not value.strip():
            raise InputError("reason is empty; write why these ranges, or leave it out")
        return value

    @field_validator(*_ENDS)
    @classmethod
    def _checked(cls, value: tuple[str, str] | None, info: Any) -> tuple[str, str] | None:
        name = info.field_name
        if value is None:
            return None
        low, high = ends_of(value)
        example = _EXAMPLES.get(name, '["80 %", "120 %"]')
        kind = _KINDS.get(name, "ratio")
        if low.kind.name != kind and name != "set_point":
            what = _KIND_NAMES[kind]
            raise InputError(f"{name} is {what}; write for example {example}")
        likely = 0.0 if name in _EXAMPLES else 1.0
        if not low <= likely <= high:
            own = "0" if name in _EXAMPLES else "100 %"
            raise InputError(
                f'{name} from "{low.text}" to "{high.text}" does not hold the case\'s own value, '
                f"{own}, between its low and its high end; write for example {example}"
            )
        # A room without any moisture store, or a unit without capacity, has no solution.
        least = 0.0 if name in _MAY_VANISH else 0.05
        if name not in _EXAMPLES and low < least:
            raise InputError(
                f'{name} goes down to "{low.text}"; write {100.0 * least:.0f} % or more'
            )
        return value


# What is no factor but a difference, whose own value is 0: examples, and kinds other than a share.
_EXAMPLES = {
    "set_point": '["-3 %", "3 %"]',
    "coil_effectiveness": '["-3 %", "3 %"]',
    "minimum_run_time": '["0 min", "5 min"]',
    "condensing_floor": '["-10 degF", "9 degF"]',
    "reheat_condensing_floor": '["-9 degF", "10 degF"]',
    "lockout_above": '["-30 degF", "0 degF"]',
    "valve_low": '["0 %", "15 %"]',
    "valve_high": '["-15 %", "0 %"]',
    "purge": '["0 min", "3 min"]',
}
_KINDS = {
    "minimum_run_time": "time",
    "purge": "time",
    "condensing_floor": "temperature difference",
    "reheat_condensing_floor": "temperature difference",
    "lockout_above": "temperature difference",
}
_KIND_NAMES = {
    "ratio": "not a range of temperatures or times",
    "time": "a range of times",
    "temperature difference": "a range of temperatures",
}
_MAY_VANISH = ("outdoor_air", "gains", "infiltration", "electricity_price", "gas_price")


def ends_of(written: tuple[str, str]) -> tuple[Measured, Measured]:
    """The ends of a range: factors or differences as fractions, K where it is a temperature's, s
    where it is a time's."""
    last = written[0].split()[-1] if written[0].split() else ""
    kind = "ratio"
    if last[-1:] in ("K", "F", "C"):
        kind = "temperature difference"
    elif last.endswith(("s", "min", "h")):
        kind = "time"
    return parse(written[0], kind), parse(written[1], kind)


Method = Literal["grid", "list", "latin hypercube"]


class Sweep(Section):
    """Many cases from this one, each solved with all its options; ``dewledger sweep`` runs them."""

    vary: dict[str, str | int | float | list[Any]] = Field(min_length=1)
    """Values by their place in the case, for example "humidity.limit" = "48 %, 50 %, 53 %" or
    "site.weather" = "stations/*.csv"; a list of values, or a range such as "45 % to 55 %"."""
    method: Method = "grid"
    """grid: every combination; list: the first of each, then the second of each, and so on; latin
    hypercube: points spread evenly over all ranges."""
    points: int | None = Field(default=None, ge=1, le=1_000_000)
    """How many points a Latin hypercube has."""
    seed: int = Field(default=1, ge=0)
    """Seed of a Latin hypercube: the same seed, the same points."""
    hourly: bool = False
    """Keep the hourly ledger of every point and option too."""
