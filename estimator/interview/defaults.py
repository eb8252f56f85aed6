"""What is assumed where an answer is missing: each value with its source, from what is known."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from dewledger.data.new_units import MADE_FROM, NewUnit, new_unit, new_units
from dewledger.interview.reading import ZONES, measured
from dewledger.quantities import in_unit, rounded

PRACTICE = "common practice, no source"
ASSUMPTION = "an assumption, no source"


class Assumed(NamedTuple):
    """A value that nobody gave, and where it is from."""

    value: Any
    source: str


Known = Mapping[str, Any]

# State and time zone of the bundled stations.
_BUNDLED_REGIONS = {
    "greensboro": ("NC", ZONES["Eastern"]),
    "miami": ("FL", ZONES["Eastern"]),
    "sand-point": ("AK", ZONES["Alaska"]),
}
# Standard time less UTC of the zones, in their order.
_OFFSETS = {-5.0: "Eastern", -6.0: "Central", -7.0: "Mountain", -8.0: "Pacific", -9.0: "Alaska",
            -10.0: "Hawaii"}  # fmt: skip


def _state(known: Known) -> Assumed:
    region = _BUNDLED_REGIONS.get(str(known["weather"]).lower())
    if region is not None:
        return Assumed(region[0], "where the weather station is")
    return Assumed("none", "no state is known, so prices are the US average")


def _time_zone(known: Known) -> Assumed:
    region = _BUNDLED_REGIONS.get(str(known["weather"]).lower())
    if region is not None:
        return Assumed(region[1], "where the weather station is")
    zone = _OFFSETS.get(known.get("utc_offset", float("nan")))
    if zone is not None:
        return Assumed(ZONES[zone], "by the standard time of the weather file")
    return Assumed("none", "no US time zone fits the weather file, so no summer time")


def _outdoor_unit(known: Known) -> bool:
    return bool(known["system"] == "outdoor-air unit")


def _capacity(known: Known) -> Assumed:
    if _outdoor_unit(known) and "cfm" in str(known.get("outdoor_air", "")):
        tons = 7.8e-3 * in_unit(measured(known["outdoor_air"], "air flow"), "air flow", "cfm")
        why = f"7.8 tons for 1000 cfm of outdoor air, {PRACTICE}"
    elif _outdoor_unit(known):
        tons = 0.3 * 7.8e-3 * _square_feet(known)
        why = f"0.3 cfm of outdoor air for a square foot and 7.8 tons for 1000 cfm, {PRACTICE}"
    else:
        tons = _square_feet(known) / 400.0
        why = f"a ton for 400 ft2, {PRACTICE}"
    return Assumed(f"{rounded(max(tons, 0.5), 2)} ton", why)


def _square_feet(known: Known) -> float:
    return in_unit(measured(known["floor_area"], "area"), "area", "ft2")


def _tons(known: Known) -> float:
    return in_unit(measured(known["capacity"], "heat flow"), "heat flow", "ton")


def _airflow(known: Known) -> Assumed:
    if _outdoor_unit(known):
        return Assumed(f"{round(_tons(known) / 7.8e-3, -1):g} cfm", f"1000 cfm for 7.8 tons, "
                       f"{PRACTICE}")  # fmt: skip
    return Assumed(f"{round(400.0 * _tons(known), -1):g} cfm", f"400 cfm for a ton, {PRACTICE}")


def _made(known: Known) -> int | None:
    """The year a unit was made: as answered, this one where nothing stands yet."""
    if known.get("age"):
        return int(known["age"])
    return 2026 if known["system"] == "nothing" else None


def assumed_new(known: Known) -> NewUnit | None:
    """What a new unit of the answered size is assumed to be; None where it is not new."""
    made = _made(known)
    if made is None or made < MADE_FROM or _outdoor_unit(known):
        return None
    return new_unit(float(measured(known["capacity"], "heat flow")))


def _efficiency(known: Known) -> Assumed:
    new = assumed_new(known)
    if new is not None:
        return Assumed(new.efficiency, new_units()[0])
    if int(known.get("age") or 2012) < 2010:
        return Assumed("10.1 EER", f"a unit made before 2010, {PRACTICE}")
    return Assumed("11.2 EER", f"a unit made since 2010, {PRACTICE}")


def _stages(known: Known) -> Assumed:
    new = assumed_new(known)
    return Assumed("1", PRACTICE) if new is None else Assumed(new.stages, new_units()[0])


def _refrigerant(known: Known) -> Assumed:
    made = _made(known) or 2015
    if made >= 2025:
        return Assumed("R-454B", "new US units no longer hold R-410A since 2025 (40 CFR 84.54)")
    if made < 2010:
        return Assumed("R-22", f"usual in units made before 2010, {PRACTICE}")
    return Assumed("R-410A", f"usual in units made from 2010 to 2024, {PRACTICE}")


class Seasonal(NamedTuple):
    """What a seasonal or later rating is over the full-load EER at 95 F of one unit."""

    usual: float
    least: float
    most: float
    source: str


# A rating over a season shows little of full load: one with stages or speeds gains at part load and
# not at 95 F. What is usual is how the least values of both stand to each other.
SEASONAL = {
    "IEER": Seasonal(
        1.3, 1.1, 1.45,
        "as the least IEER since 2023 (14.8, 14.2, 13.2; 10 CFR 431.97) to the least EER (11.2, "
        "11.0, 10.0; ASHRAE 90.1-2019) of one size, not checked against the text",
    ),
    "SEER2": Seasonal(
        1.2, 1.1, 1.5,
        "as the least SEER2 to the least EER2 (14.3 to 11.7, 13.8 to 11.2; 10 CFR 430.32) and EER2 "
        "to EER, not checked against the text",
    ),
    "SEER": Seasonal(
        1.2, 1.05, 1.5,
        "as the least SEER to the least EER until 2022 (15 to 12.2, 14.5 to 11.7; 10 CFR 430.32), "
        "not checked against the text",
    ),
    "EER2": Seasonal(
        0.96, 0.93, 1.0,
        "as the least EER2 since 2023 to the least EER before (11.7 to 12.2, 11.2 to 11.7; 10 CFR "
        "430.32), not checked against the text",
    ),
}  # fmt: skip


def _limit(known: Known) -> Assumed:
    low, high = (float(measured(known[end], "fraction")) for end in ("low", "high"))
    limit = max(high - 0.05, 0.5 * (low + high))
    return Assumed(
        f"{100.0 * limit:.3g} %", f"5 points below the highest that is wanted, {PRACTICE}"
    )


def _considered(known: Known) -> Assumed:
    today = known["reheat"] if _outdoor_unit(known) else known["system"]
    ways = [way for way in ("condenser", "electric", "gas") if way != today][:2]
    if today not in ("plain", "nothing") and not _outdoor_unit(known):
        ways.append("plain")
    return Assumed(ways, "the usual ways")


# In an order in which each needs only those before it.
DEFAULTS: dict[str, Callable[[Known], Assumed | None]] = {
    "title": lambda known: None,
    "display": lambda known: Assumed("I-P", "default"),
    "system": lambda known: Assumed("plain", "default"),
    "reheat": lambda known: Assumed("electric", ASSUMPTION),
    "weather": lambda known: Assumed("greensboro", "default: a bundled station"),
    "state": _state,
    "time_zone": _time_zone,
    "room_kind": lambda known: Assumed("office", "default"),
    "floor_area": lambda known: Assumed("5000 ft2", ASSUMPTION),
    "height": lambda known: Assumed("10 ft", PRACTICE),
    "hours": lambda known: Assumed(
        {"weekday": "08:00-18:00", "saturday": "none", "sunday": "none"}, ASSUMPTION
    ),
    "age": lambda known: None,
    "capacity": _capacity,
    "airflow": _airflow,
    "efficiency": _efficiency,
    "refrigerant": _refrigerant,
    "stages": _stages,
    "fan": lambda known: Assumed("continuous", f"it brings the outdoor air in use, {PRACTICE}"),
    "fan_unoccupied": lambda known: Assumed("off" if _outdoor_unit(known) else "cycling", PRACTICE),
    "outdoor_air": lambda known: Assumed("100 %" if _outdoor_unit(known) else "20 %", PRACTICE),
    "humid_now": lambda known: None,
    "cooling": lambda known: Assumed("75 degF", PRACTICE),
    "heating": lambda known: Assumed("70 degF", PRACTICE),
    "low": lambda known: Assumed("30 %", PRACTICE),
    "high": lambda known: Assumed("60 %", PRACTICE),
    "limit": _limit,
    "infiltration": lambda known: Assumed("0.2 ACH", PRACTICE),
    "condensing_floor": lambda known: None,
    "supply_dew_point": lambda known: Assumed("52 degF", PRACTICE),
    "effectiveness": lambda known: None,
    "electricity": lambda known: None,
    "gas": lambda known: None,
    "considered": _considered,
    "first_cost": lambda known: None,
}
# A value that its user does not know is ranged this far in the sensitivity: the key of [ranges].
RANGES: dict[str, tuple[str, list[str]]] = {
    "outdoor_air": ("outdoor_air", ["50 %", "150 %"]),
    "room_kind": ("gains", ["50 %", "150 %"]),
    "capacity": ("rated_capacity", ["80 %", "125 %"]),
    "efficiency": ("rated_efficiency", ["80 %", "115 %"]),
    "electricity": ("electricity_price", ["75 %", "130 %"]),
    "gas": ("gas_price", ["70 %", "140 %"]),
}
