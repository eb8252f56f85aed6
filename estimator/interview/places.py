"""Where the value of a field stands in a case, in which units a page shows it, and how far a slider
moves it; and how a value that is not written as it was answered gets there."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from dewledger.interview.defaults import PRACTICE, SEASONAL
from dewledger.interview.reading import measured
from dewledger.quantities import in_unit, rounded

# A value of a field and all that is known -> values of the case by their place.
Write = Callable[[Any, Mapping[str, Any]], dict[str, Any]]


@dataclass(frozen=True)
class Place:
    """Where a field's value stands in a case.

    path : its place, as ``Case.with_values`` takes it; of an option, within the option
    kind : of quantity; "" for a word or a text
    units : a page offers these, the I-P one first; SI's is the last
    span : lowest and highest value of its slider, as written
    factors : the same as factors on the case's own value
    write : to the places of the case, where the answer does not stand there as it is
    of_option : whether every option has one of its own
    """

    path: str
    kind: str = ""
    units: tuple[str, ...] = ()
    span: tuple[str, str] | None = None
    factors: tuple[float, float] | None = None
    write: Write | None = None
    of_option: bool = False

    @property
    def moves(self) -> bool:
        """Whether it is a lever: a page gives it a slider."""
        return self.span is not None or self.factors is not None

    def values(self, value: Any, known: Mapping[str, Any]) -> dict[str, Any]:
        """Values of the case by their place; None is the default."""
        if self.write is None or value is None:
            return {self.path: value}
        return self.write(value, known)


def limit_control(limit: str) -> str:
    """What a limit controls, by its unit."""
    unit = limit.split()[-1]
    if unit in ("gr/lb", "g/kg"):
        return "humidity ratio"
    return "relative humidity" if unit == "%" else "dew point"


def limit(value: str, known: Mapping[str, Any]) -> dict[str, Any]:
    """The limit and what it controls."""
    return {"humidity.control": limit_control(value), "humidity.limit": value}


# The limit of humidity by what controls it: its kind depends on that.
LIMIT_PLACES = {
    "relative humidity": Place("humidity.limit", "fraction", ("%",), ("35 %", "70 %"), write=limit),
    "dew point": Place(
        "humidity.limit", "temperature", ("degF", "degC"), ("35 degF", "65 degF"), write=limit
    ),
    "humidity ratio": Place(
        "humidity.limit", "humidity ratio", ("gr/lb", "g/kg"), ("30 gr/lb", "90 gr/lb"), write=limit
    ),
}  # fmt: skip


def hours(value: Mapping[str, str], known: Mapping[str, Any]) -> dict[str, Any]:
    """Hours of use of the three kinds of day."""
    return {f"schedule.{day}": span for day, span in value.items()}


def state(value: str, known: Mapping[str, Any]) -> dict[str, Any]:
    """Prices of the state and, in the US, its holidays."""
    found: dict[str, Any] = {"prices.state": None if value == "none" else value}
    if known.get("holiday_country") == "US":
        found["schedule.holiday_region"] = found["prices.state"]
    return found


def outdoor_air(value: str, known: Mapping[str, Any]) -> dict[str, Any]:
    """A flow; a share is one of the supply air."""
    if "%" not in value:
        return {"air.outdoor_flow": value}
    cfm = in_unit(measured(known["airflow"], "air flow"), "air flow", "cfm")
    share = float(measured(value, "fraction"))
    return {"air.outdoor_flow": f"{rounded(share * cfm, 3).replace(',', '')} cfm"}


def full_load(value: str) -> tuple[str, str]:
    """Full-load efficiency of a nameplate's, and why where that was not its own."""
    number, measure = value.split()
    over = SEASONAL.get(measure)
    if over is None:
        return value, ""
    why = f"{number} {measure} of the nameplate over {over.usual:g}: {over.source}"
    return f"{float(number) / over.usual:.1f} EER", why


def seasonal_range(value: str) -> tuple[list[str], str] | None:
    """How far the full-load efficiency of units of one seasonal rating lies apart, and why; None
    where the rating is one of full load."""
    measure = value.split()[1]
    over = SEASONAL.get(measure)
    if over is None:
        return None
    ends = [f"{100.0 * over.usual / end:.0f} %" for end in (over.most, over.least)]
    return ends, (
        f"units of one {measure} differ in their full-load EER ({measure} over EER "
        f"{over.least:g} to {over.most:g}, {PRACTICE})"
    )


def efficiency(value: str, known: Mapping[str, Any]) -> dict[str, Any]:
    """Rated efficiency at full load."""
    return {"unit.efficiency": full_load(value)[0]}


def equal_stages(count: int) -> list[str]:
    """Equal stages up to all of the capacity."""
    return [f"{100.0 * (i + 1) / count:.3g} %" for i in range(count)]


def stages(value: str, known: Mapping[str, Any]) -> dict[str, Any]:
    """Capacity control: one stage cycles, several are equal."""
    control = {"1": "cycling", "variable": "variable"}.get(value, "stages")
    steps = equal_stages(int(value)) if control == "stages" else None
    return {"unit.capacity_control": control, "unit.stages": steps}


def note_of_age(made: str) -> str:
    """When the unit was made, which no figure of the case holds."""
    return f"As its user says, the unit of today was made in {made}."


def age(value: str, known: Mapping[str, Any]) -> dict[str, Any]:
    """The year into the case's note."""
    return {"note": note_of_age(value)}


def first_cost(value: Mapping[str, str], known: Mapping[str, Any]) -> dict[str, Any]:
    """First cost of one option."""
    return {"cost.first_cost": next(iter(value.values()))}
