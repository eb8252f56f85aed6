"""Answers to a case file: every value with its origin, written with its comments by tomlkit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import tomlkit

from dewledger.data.new_units import new_units
from dewledger.interview.defaults import ASSUMPTION, PRACTICE, RANGES, assumed_new
from dewledger.interview.places import (
    equal_stages,
    full_load,
    limit_control,
    note_of_age,
    seasonal_range,
)
from dewledger.interview.readers import TITLES
from dewledger.interview.reading import measured
from dewledger.quantities import in_unit, rounded
from dewledger.weather.errors import InputError

SOURCES: dict[str, list[dict[str, Any]]] = {
    "plain": [],
    "electric": [{"source": "electric"}],
    "gas": [{"source": "gas"}],
    "hot-water": [{"source": "hot water"}],
    "condenser": [{"source": "condenser"}],
    "condenser-trim": [{"source": "condenser"}, {"source": "electric"}],
}
TODAY = "today"


def option_table(way: str, room_unit: bool, effectiveness: str | None = None) -> dict[str, Any]:
    """What an option of a way to reheat says, but for its title.

    room_unit : whether the unit follows the room's humidity; one for outdoor air does not
    effectiveness : of a condenser-heat coil; None takes the default
    """
    sources = [dict(source) for source in SOURCES[way]]
    for source in sources:
        if source["source"] == "condenser" and effectiveness is not None:
            source["effectiveness"] = effectiveness
    humidity = {"humidity": {"control": "none"}} if way == "plain" and room_unit else {}
    return {**humidity, "reheat": sources}


def _watts(each: float | None, count: float) -> str | None:
    """A power for so many of them; None where none is known."""
    return None if each is None else f"{rounded(each * count, 3).replace(',', '')} W"


class Draft:
    """A case as it grows: tables in their order, and the origin of what was not given.

    values : the answers, defaults filled in
    given : fields that were answered
    sources : where each other field's value is from
    unknown : fields that were said not to be known
    """

    def __init__(
        self, values: Mapping[str, Any], given: set[str], sources: Mapping[str, str],
        unknown: set[str],
    ) -> None:  # fmt: skip
        self.values = values
        self.given = given
        self.sources = sources
        self.unknown = unknown
        self.table: dict[str, Any] = {}
        self.assumed: dict[str, dict[str, Any]] = {}

    def put(self, path: str, value: Any, field: str = "", source: str = "") -> None:
        """A value in its place; assumed unless its field was answered and no source is named."""
        *tables, key = path.split(".")
        inner = self.table
        for name in tables:
            inner = inner.setdefault(name, {})
        inner[key] = value
        why = source or ("" if field in self.given or not field else self.sources[field])
        if why:
            self.assumed[path] = {"value": value, "source": why}

    def build(self) -> dict[str, Any]:
        """The whole case."""
        self._top()
        self._room()
        self._air_and_unit()
        self._humidity()
        self._money()
        self._options()
        self._ranges()
        if self.assumed:
            self.table["origin"] = {"assumed": self.assumed}
        return self.table

    def _top(self) -> None:
        v = self.values
        self.table["format"] = 2
        place = v.get("station") or str(v["weather"]).replace("-", " ").title()
        room = str(v["room_kind"]).capitalize()
        if v["title"]:
            self.put("title", v["title"])
        else:
            self.put("title", f"{room}, {place}", source="from kind of room and place")
        if v["humid_now"] and v["system"] == "nothing":
            raise InputError(
                "humid_now is seen with what stands there, and nothing does yet; leave it out, or "
                "say what stands there today"
            )
        if v["age"]:
            self.table["note"] = note_of_age(v["age"])
        self.put("display", v["display"], "display")
        nothing = v["system"] == "nothing"
        self.put("reference", "plain" if nothing else TODAY)
        self.put("site.weather", v["weather"], "weather")

    def _room(self) -> None:
        v = self.values
        area = in_unit(measured(v["floor_area"], "area"), "area", "ft2")
        self.put("room.floor_area", v["floor_area"], "floor_area")
        self.put("room.height", v["height"], "height")
        self.put(
            "room.conductance", f"{rounded(0.2 * area, 3).replace(',', '')} Btu/h/degF",
            source=f"0.2 Btu/h/degF for a square foot of floor, {PRACTICE}",
        )  # fmt: skip
        self.put("room.infiltration", v["infiltration"], "infiltration")
        self.put("room.cooling_setpoint", v["cooling"], "cooling")
        self.put("room.heating_setpoint", v["heating"], "heating")
        for day, span in v["hours"].items():
            self.put(f"schedule.{day}", span, "hours")
        zone = v["time_zone"]
        if zone in ("none", "") or str(zone).startswith(("America", "Pacific/Honolulu")):
            self.put("schedule.holiday_country", "US", source=ASSUMPTION)
            if v["state"] != "none":
                self.put("schedule.holiday_region", v["state"], "state")
        self.put("schedule.daylight_saving", zone, "time_zone")
        self.put("loads.room_kind", v["room_kind"], "room_kind")

    def _air_and_unit(self) -> None:
        v = self.values
        outside = v["system"] == "outdoor-air unit"
        cfm = in_unit(measured(v["airflow"], "air flow"), "air flow", "cfm")
        self.put("air.supply_flow", v["airflow"], "airflow")
        if outside:
            self.put("air.outdoor_flow", v["airflow"], "airflow")
        elif "%" in v["outdoor_air"]:
            share = float(measured(v["outdoor_air"], "fraction"))
            self.put("air.outdoor_flow", f"{rounded(share * cfm, 3).replace(',', '')} cfm",
                     "outdoor_air")  # fmt: skip
        else:
            self.put("air.outdoor_flow", v["outdoor_air"], "outdoor_air")
        self.put("air.fan", v["fan"], "fan")
        self.put("air.fan_unoccupied", v["fan_unoccupied"], "fan_unoccupied")
        self.put("air.fan_power", f"{rounded(0.365 * cfm, 3).replace(',', '')} W",
                 source=f"365 W for 1000 cfm, {PRACTICE}")  # fmt: skip
        self.put("unit.refrigerant", v["refrigerant"], "refrigerant")
        self.put("unit.total_capacity", v["capacity"], "capacity")
        tons = in_unit(measured(v["capacity"], "heat flow"), "heat flow", "ton")
        if outside:
            self._outdoor_air_unit()
        else:
            share = min(max(0.72 + 0.0006 * (cfm / tons - 400.0), 0.62), 0.82)
            why = f"72 % at 400 cfm for a ton, more with more air, {PRACTICE}"
            self.put("unit.sensible_heat_ratio", f"{100.0 * share:.0f} %", source=why)
        self._efficiency()
        self._stages()

    def _outdoor_air_unit(self) -> None:
        why = f"a coil for outdoor air, rated at 95 F and 78 F wet bulb, {PRACTICE}"
        for key, value in (
            ("sensible_heat_ratio", "51 %"), ("rated_entering_dry_bulb", "95 degF"),
            ("rated_entering_wet_bulb", "78 degF"), ("rated_suction", "40 degF"),
        ):  # fmt: skip
            self.put(f"unit.{key}", value, source=why)
        dew_point = self.values["supply_dew_point"]
        self.put("outdoor_air_unit.supply_dew_point", dew_point, "supply_dew_point")
        self.put("outdoor_air_unit.supply_temperature", "70 degF", source=PRACTICE)

    def _efficiency(self) -> None:
        value, why = full_load(self.values["efficiency"])
        self.put("unit.efficiency", value, "efficiency", why)
        self._new()
        if self.values["condensing_floor"]:
            floor = self.values["condensing_floor"]
            self.put("unit.condensing_floor", floor, "condensing_floor")

    def _new(self) -> None:
        """What else the rating of an assumed new unit rests on."""
        new = None if "efficiency" in self.given else assumed_new(self.values)
        if new is None:
            return
        tons = in_unit(measured(self.values["capacity"], "heat flow"), "heat flow", "ton")
        cfm = in_unit(measured(self.values["airflow"], "air flow"), "air flow", "cfm")
        for key, value in (
            ("rated_suction", new.rated_suction),
            ("rated_condensing", new.rated_condensing),
            ("rated_fan_power", _watts(new.fan_W_per_1000_cfm, cfm / 1000.0)),
            ("condenser_fan_power", _watts(new.condenser_fan_W_per_ton, tons)),
        ):
            if value is not None:
                self.put(f"unit.{key}", value, source=new_units()[0])

    def _stages(self) -> None:
        stages = self.values["stages"]
        control = {"1": "cycling", "variable": "variable"}.get(stages, "stages")
        self.put("unit.capacity_control", control, "stages")
        if control == "stages":
            count = int(stages)
            self.put("unit.stages", equal_stages(count), source=f"{count} equal stages, {PRACTICE}")

    def _humidity(self) -> None:
        v = self.values
        if v["system"] == "outdoor-air unit":
            self.put("humidity.control", "none")
        else:
            self.put("humidity.control", limit_control(v["limit"]), source="to hold what is wanted")
            self.put("humidity.limit", v["limit"], "limit")
        self.put("humidity.range_low", v["low"], "low")
        self.put("humidity.range_high", v["high"], "high")
        if "hot-water" in (v["system"], v["reheat"]):
            self.put("heating.source", "hot water", source="the boiler that reheats, an assumption")
        else:
            self.put("heating.source", "gas", source=ASSUMPTION)

    def _money(self) -> None:
        v = self.values
        if v["state"] != "none":
            self.put("prices.state", v["state"], "state")
        for fuel in ("electricity", "gas"):
            if v[fuel]:
                self.put(f"prices.{fuel}", v[fuel], fuel)

    def _options(self) -> None:
        v = self.values
        outside = v["system"] == "outdoor-air unit"
        today = v["reheat"] if outside else v["system"]
        ways = [way for way in v["considered"] if way != today]
        if today == "nothing":
            ways = ["plain", *(way for way in ways if way != "plain")]
        else:
            self._option(TODAY, f"Today: {TITLES[today][:1].lower()}{TITLES[today][1:]}", today)
        costs = v["first_cost"] or {}
        if costs and today != "nothing":
            self.put(f"options.{TODAY}.cost.first_cost", "0 USD", source="it is in place")
        for way in ways:
            self._option(way, "No reheat" if way == "plain" and outside else TITLES[way], way)
            first = next(way for way in ways if way != "plain" or len(ways) == 1)
            cost = costs.get(way) or (costs.get("") if way == first else None)
            if cost:
                self.put(f"options.{way}.cost.first_cost", cost, "first_cost")

    def _option(self, key: str, title: str, way: str) -> None:
        why = "" if key == TODAY or "considered" in self.given else "the usual ways"
        self.put(f"options.{key}.title", title, source=why)
        outside = self.values["system"] == "outdoor-air unit"
        share = self.values["effectiveness"]
        for name, value in option_table(way, not outside, share).items():
            self.put(f"options.{key}.{name}", value)
        if key == TODAY and self.values["humid_now"]:
            self.put(f"options.{key}.humidity.observed_high", self.values["humid_now"])

    def _ranges(self) -> None:
        ranges = {RANGES[field][0]: RANGES[field][1] for field in RANGES if field in self.unknown}
        reasons = ["not known for sure to those who answered"] if ranges else []
        seasonal = seasonal_range(self.values["efficiency"])
        if seasonal is not None and "efficiency" in self.given:
            ranges["rated_efficiency"], reason = seasonal
            reasons.append(reason)
        if ranges:
            self.table["ranges"] = {"reason": "; ".join(reasons), **ranges}


def written(table: Mapping[str, Any]) -> str:
    """The case file, each assumed value marked."""
    assumed = table.get("origin", {}).get("assumed", {})
    document = tomlkit.document()
    for line in (
        "Written by dewledger new from a few answers.",
        "",
        "What is marked as assumed was not answered; [origin.assumed] says where each value is",
        "from. Change what you know better: it then counts as given.",
    ):
        document.add(tomlkit.comment(line) if line else tomlkit.comment(""))
    document.add(tomlkit.nl())
    for name, value in table.items():
        if name == "options":
            document.add(name, _options(value))
        elif name == "origin":
            document.add(name, _origin(value))
        elif isinstance(value, dict):
            document.add(name, _table(name, value, assumed))
        else:
            document.add(name, _marked(value, name in assumed))
    return tomlkit.dumps(document)


def _marked(value: Any, assumed: bool) -> Any:
    item = tomlkit.item(value)
    return item.comment("assumed") if assumed else item


def _table(name: str, value: Mapping[str, Any], assumed: Mapping[str, Any]) -> Any:
    table = tomlkit.table()
    for key, inner in value.items():
        table.add(key, _marked(inner, f"{name}.{key}" in assumed))
    return table


def _inline(value: Mapping[str, Any]) -> Any:
    table = tomlkit.inline_table()
    table.update(value)
    return table


def _options(options: Mapping[str, Any]) -> Any:
    tables = tomlkit.table(is_super_table=True)
    for key, option in options.items():
        table = tomlkit.table()
        for name, value in option.items():
            if isinstance(value, list):
                array = tomlkit.array()
                array.extend([_inline(one) for one in value])
                table.add(name, array)
            else:
                table.add(name, _inline(value) if isinstance(value, dict) else value)
        tables.add(key, table)
    return tables


def _origin(origin: Mapping[str, Any]) -> Any:
    tables = tomlkit.table(is_super_table=True)
    table = tomlkit.table()
    for path, one in origin["assumed"].items():
        table.add(path, _inline(one))
    tables.add("assumed", table)
    return tables
