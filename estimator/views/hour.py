"""One hour in detail: states along the air path, heats between them, refrigeration, decision."""

from __future__ import annotations

import calendar
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from dewledger.accounts.energy import column, hour_label
from dewledger.accounts.humidity_criteria import out_of_range
from dewledger.assembly.machine import Machine
from dewledger.dx_unit.cycle import coil_shares, cycle_at
from dewledger.dx_unit.types import SUBCOOLING, SUBCOOLING_THEN_CONDENSER, WRAP_AROUND, AirIn
from dewledger.hourly.ledger import INDEX, empty_ledger
from dewledger.hourly.outdoor_air_unit import supply_dew_point
from dewledger.hourly.types import DEW_POINT, DRIVERS, FAN_CYCLING, FAN_OFF
from dewledger.hourly.year import solve_year
from dewledger.quantities import Display, show
from dewledger.views.unit_conditions import heat_by_subcooling
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import (
    FloatArray,
    heat_capacity,
    hum_ratio_from_wet_bulb,
    saturation_hum_ratio,
    vapor_enthalpy,
)
from dewledger.weather.year import WeatherYear

MONTHS = tuple(calendar.month_abbr[1:])
WORST = {
    "reheat": "the hour with the most overcooling heat",
    "dew-point": "the hour with the highest outdoor dew point",
    "dry-bulb": "the hour with the highest outdoor dry bulb",
    "out-of-range": "the hour with the room's humidity farthest out of its range",
}
# A stated condition is held this long, so that room temperature and humidity settle.
_SETTLE_HOURS = 24 * 60


Way = Literal[
    "air", "exchange", "mixing", "precooling", "cooling", "reheat", "fan", "heating", "mean", "room"
]


@dataclass(frozen=True)
class Point:
    """One state of the air: where, what, how much of it (dry air while it flows).

    way : what brought the air of the point before to this state; "air" where nothing did
    """

    label: str
    way: Way
    temp_C: float
    hum_ratio: float
    flow_kg_s: float
    explanation: str


@dataclass(frozen=True)
class HourDetail:
    """One hour of one option.

    heats : (what, W) means over the hour, in the order of the air path; heat out of the air is
        negative
    refrigeration : (what, value, kind of quantity); heats are means over the hour
    """

    when: str
    pressure_Pa: float
    points: tuple[Point, ...]
    heats: tuple[tuple[str, float], ...]
    refrigeration: tuple[tuple[str, float, str], ...]
    decision: str
    room_sensible_W: float
    room_latent_W: float
    runtime: float

    @property
    def room_shr(self) -> float | None:
        """Sensible heat ratio of what the supply air takes from the room; None without load."""
        total = self.room_sensible_W + self.room_latent_W
        if self.room_sensible_W <= 0.0 or self.room_latent_W < 0.0 or total <= 0.0:
            return None
        return self.room_sensible_W / total


def hour_of(year: WeatherYear, text: str) -> int:
    """Hour of the year 0..8759 of "Jul 15 16:00" (the hour that starts then, standard time).

    Raises
    ------
    InputError : not a day and hour of a 365-day year
    """
    match = re.fullmatch(r"\s*([A-Za-z]{3})[a-z]*\s+(\d{1,2})\s+(\d{1,2})(?::(\d\d))?\s*", text)
    name = match[1].title() if match else ""
    if match is None or name not in MONTHS:
        raise InputError(f'"{text}" is not an hour of the year; write for example "Jul 15 16:00"')
    frame = year.frame
    mask = (
        (frame["month"] == MONTHS.index(name) + 1)
        & (frame["day"] == int(match[2]))
        & (frame["hour"] == int(match[3]))
    ).to_numpy()
    if not mask.any():
        raise InputError(
            f'"{text}" is not in a year of 365 days with hours 0 to 23; '
            'write for example "Jul 15 16:00"'
        )
    return int(np.argmax(mask))


def worst_hour(ledger: FloatArray, machine: Machine, year: WeatherYear, what: str) -> int | None:
    """The hour in which the named thing (a key of ``WORST``) is at its worst; None if it never is.

    Raises
    ------
    InputError : not a key of ``WORST``
    """
    rh = column(ledger, "room_rh_frac")
    measures: dict[str, Callable[[], FloatArray]] = {
        "reheat": lambda: column(ledger, "overcooling_heat_kWh"),
        "dew-point": lambda: year.frame["temp_dew_C"].to_numpy(),
        "dry-bulb": lambda: year.frame["temp_air_C"].to_numpy(),
        "out-of-range": lambda: np.maximum(rh - machine.range_high, machine.range_low - rh),
    }
    if what not in measures:
        raise InputError(f'--worst "{what}" is not known; write one of {", ".join(WORST)}')
    measure = measures[what]()
    hour = int(np.argmax(measure))
    # outdoors some hour is always the worst; a room may never overcool nor leave its range
    if what == "reheat" and measure[hour] <= 0.0:
        return None
    if what == "out-of-range" and not np.any(
        out_of_range(rh[hour : hour + 1], machine.range_low, machine.range_high)
    ):
        return None
    return hour


def stated_hour(
    machine: Machine,
    outdoor_C: float,
    wet_bulb_C: float,
    pressure_Pa: float,
    sensible_share: float,
    latent_share: float,
) -> tuple[FloatArray, Machine]:
    """A stated outdoor state and shares of the largest gains, held until the room has settled.

    Outdoor air, fan, set points and limit are those of the hour with the largest gains.
    Returns the ledger of the settled hour, (columns, 1), and a machine with that one hour.
    """
    if wet_bulb_C > outdoor_C:
        raise InputError(
            "--wet-bulb is above --outdoor, which no air can be; write a wet bulb at or below the "
            "dry bulb"
        )
    ratio = hum_ratio_from_wet_bulb(outdoor_C, wet_bulb_C, pressure_Pa)
    if ratio <= 0.0 or ratio > saturation_hum_ratio(outdoor_C, pressure_Pa) * 1.0001:
        raise InputError(
            "--wet-bulb is too low for --outdoor: such air would hold no moisture; write a higher "
            "wet bulb"
        )
    drivers = machine.drivers
    gains = drivers[:, DRIVERS.index("gains_sensible_W")]
    moisture = drivers[:, DRIVERS.index("gains_moisture_kg_s")]
    row = drivers[int(np.argmax(gains))].copy()
    row[DRIVERS.index("outdoor_temp_C")] = outdoor_C
    row[DRIVERS.index("outdoor_hum_ratio_kg_kg")] = ratio
    row[DRIVERS.index("pressure_Pa")] = pressure_Pa
    row[DRIVERS.index("gains_sensible_W")] = sensible_share * float(gains.max())
    row[DRIVERS.index("gains_moisture_kg_s")] = latent_share * float(moisture.max())
    held = np.ascontiguousarray(row.reshape(1, -1))
    out = empty_ledger(1)
    solve_year(
        machine.unit.map,
        machine.plant,
        machine.room,
        machine.control,
        machine.sources,
        held,
        _SETTLE_HOURS,
        out,
    )
    return out, replace(machine, drivers=held)


def detail_at(
    ledger: FloatArray, machine: Machine, year: WeatherYear, hour: int, display: Display
) -> HourDetail:
    """An hour of the year in detail, named by its date."""
    return report_hour(ledger, machine, hour, hour_label(year, hour), display)


def report_hour(
    ledger: FloatArray, machine: Machine, hour: int, when: str, display: Display
) -> HourDetail:
    """One hour of a ledger in detail; ``display`` for the figures in its decision."""
    solved = _Hour(ledger, machine, hour)
    points = solved.path()
    sensible, latent = solved.taken_from_room()
    return HourDetail(
        when,
        solved.driver("pressure_Pa"),
        tuple(points),
        solved.heats(),
        solved.refrigeration(),
        solved.decision(display),
        sensible,
        latent,
        solved.at("compressor_runtime_frac"),
    )


@dataclass(frozen=True)
class _Hour:
    """One hour of a ledger, column by column."""

    ledger: FloatArray
    machine: Machine
    hour: int

    def at(self, name: str) -> float:
        return float(self.ledger[INDEX[name], self.hour])

    def watts(self, name: str) -> float:
        """The mean heat flow or power of an energy of the hour."""
        return 1000.0 * self.at(name)

    def driver(self, name: str) -> float:
        return float(self.machine.drivers[self.hour][DRIVERS.index(name)])

    def path(self) -> list[Point]:
        """States in the order the air meets them while the compressor runs; then the mean."""
        at = self.at
        fan = at("fan_runtime_frac")
        flow = at("supply_flow_kg_s")
        outdoor_flow = at("outdoor_air_kg_s") / fan if fan > 0.0 else 0.0
        outdoor = Point(
            "Outdoor", "air", at("outdoor_temp_C"), at("outdoor_hum_ratio_kg_kg"), outdoor_flow,
            "Outdoor air.",
        )  # fmt: skip
        room_temp, room_w = at("room_temp_C"), at("room_hum_ratio_kg_kg")
        if fan <= 0.0:
            return [
                outdoor,
                Point(
                    "Room", "air", room_temp, room_w, 0.0, "At the end of the hour; no air moves."
                ),
            ]
        share = outdoor_flow / flow
        mixed = Point(
            "Mixed", "mixing", at("mixed_temp_C"), at("mixed_hum_ratio_kg_kg"), flow,
            f"Return air with {100.0 * share:.0f} % outdoor air, entering the unit."
            if share > 0.0
            else "Return air alone: no outdoor air is taken in.",
        )  # fmt: skip
        points = [
            outdoor,
            *self._after_device(outdoor),
            Point(
                "Return", "air", room_temp, room_w, flow - outdoor_flow,
                "Air as it leaves the room.",
            ),
            mixed,
            *self._through_unit(mixed, fan),
        ]  # fmt: skip
        points.append(
            Point("Room", "room", room_temp, room_w, flow, "The room at the end of the hour.")
        )
        return points

    def _after_device(self, outdoor: Point) -> list[Point]:
        """Outdoor air after a recovery device, where one does anything."""
        heat, moisture = (
            self.watts("outdoor_recovery_sensible_kWh"),
            self.at("outdoor_recovery_moisture_kg"),
        )
        rate = self.at("outdoor_air_kg_s")
        if rate <= 0.0 or (abs(heat) < 0.5 and abs(moisture) < 1e-6):
            return []
        w = outdoor.hum_ratio + moisture / 3600.0 / rate
        return [
            Point(
                "After recovery", "exchange", outdoor.temp_C + heat / (rate * heat_capacity(w)), w,
                outdoor.flow_kg_s, "Outdoor air after the recovery device.",
            )
        ]  # fmt: skip

    def _fan_W(self) -> float:
        """Mean power of the supply fan, reheat coils included."""
        return self.watts("supply_fan_kWh") + self.watts("reheat_coil_fan_kWh")

    def _through_unit(self, mixed: Point, fan: float) -> list[Point]:
        """From the mixed air to the supply."""
        at, plant = self.at, self.machine.plant
        runtime = at("compressor_runtime_frac")
        flow = mixed.flow_kg_s
        fan_W = self._fan_W() / fan
        points: list[Point] = []

        def go(label: str, way: Way, temp: float, w: float, words: str) -> Point:
            points.append(Point(label, way, temp, w, flow, words))
            return points[-1]

        def warm(label: str, way: Way, here: Point, watts: float, words: str) -> Point:
            rise = watts / (flow * heat_capacity(here.hum_ratio))
            return go(label, way, here.temp_C + rise, here.hum_ratio, words) if rise else here

        blown = "The fan’s power, all of it heat."
        here = mixed
        if plant.blow_through == 1:
            here = warm("After fan", "fan", here, fan_W, blown)
        recovered = self.watts("reheat_recovered_kWh")
        purchased = self.watts("reheat_purchased_kWh")
        if runtime > 0.0:
            loop = plant.arrangement == WRAP_AROUND
            if loop and recovered > 0.0:
                here = warm(
                    "After precooling", "precooling", here, -recovered / runtime,
                    "The wrap-around loop takes heat before the coil and returns it after it.",
                )  # fmt: skip
            wet = at("condensate_kg") > 0.0
            words = "Cooled and dehumidified" if wet else "Cooled, no moisture removed"
            words += (
                ", all hour."
                if runtime >= 0.999
                else f" while the compressor runs, {100.0 * runtime:.0f} % of the hour."
            )
            here = go(
                "Leaving coil", "cooling", at("coil_leaving_temp_C"),
                at("coil_leaving_hum_ratio_kg_kg"), words,
            )  # fmt: skip
            # Recovered heat flows with the compressor, purchased heat as long as the fan runs.
            source = "Purchased heat"
            if recovered > 0.0:
                source = "Heat of the loop" if loop else "Condenser heat"
                source = "Heat of the liquid" if plant.arrangement == SUBCOOLING else source
                source += " and purchased heat" if purchased > 0.0 else ""
            here = warm(
                "After reheat", "reheat", here, recovered / runtime + purchased / fan,
                f"{source}: sensible heating, constant humidity ratio.",
            )  # fmt: skip
        if plant.blow_through == 0:
            here = warm("After fan", "fan", here, fan_W, blown)
        here = warm(
            "After heating", "heating", here, self.watts("heating_kWh") / fan, "Space heating."
        )
        if 0.0 < runtime < fan - 1e-3:
            go(
                "Supply, mean", "mean", at("supply_temp_C"), at("supply_hum_ratio_kg_kg"),
                "Mean of the hour: the compressor’s running and idle time together.",
            )  # fmt: skip
        return points

    def taken_from_room(self) -> tuple[float, float]:
        """Sensible and latent heat [W] that the supply air takes from the room."""
        at = self.at
        fan = at("fan_runtime_frac")
        if fan <= 0.0:
            return 0.0, 0.0
        flow = fan * at("supply_flow_kg_s")
        temp, w = at("room_temp_C"), at("supply_hum_ratio_kg_kg")
        sensible = flow * heat_capacity(w) * (temp - at("supply_temp_C"))
        return sensible, flow * (at("room_hum_ratio_kg_kg") - w) * vapor_enthalpy(temp)

    def heats(self) -> tuple[tuple[str, float], ...]:
        """What heat went where, but for what is zero."""
        watts = self.watts
        sensible, latent = self.taken_from_room()
        rows = (
            ("gains in the room, sensible", watts("gains_sensible_kWh")),
            ("sun through the windows", watts("solar_gains_kWh")),
            ("through the envelope and by infiltration", watts("envelope_kWh")),
            ("with the outdoor air of the unit, sensible", watts("ventilation_sensible_kWh")),
            (
                "energy recovery device on the outdoor air, sensible",
                watts("outdoor_recovery_sensible_kWh"),
            ),
            ("with the humidifier's moisture, sensible", watts("humidifier_heat_kWh")),
            ("supply fan", self._fan_W()),
            ("cooling coil, sensible", -watts("cooling_sensible_kWh")),
            ("cooling coil, latent", -watts("cooling_latent_kWh")),
            ("cooling coil, total", -watts("cooling_total_kWh")),
            ("overcooling heat (reheat load)", watts("overcooling_heat_kWh")),
            ("reheat: recovered", watts("reheat_recovered_kWh")),
            ("reheat: purchased", watts("reheat_purchased_kWh")),
            ("reheat: unmet", watts("reheat_unmet_kWh")),
            ("space heating", watts("heating_kWh")),
            ("room sensible cooling by supply air", sensible),
            ("room latent cooling by supply air", latent),
        )
        return tuple(row for row in rows if abs(row[1]) > 0.5)

    def refrigeration(self) -> tuple[tuple[str, float, str], ...]:
        """The refrigerant side of the hour; nothing while the compressor is off."""
        at, watts = self.at, self.watts
        if at("compressor_runtime_frac") <= 0.0:
            return ()
        loop = self.machine.plant.arrangement == WRAP_AROUND
        to_air = 0.0 if loop else watts("reheat_recovered_kWh")
        rejected = watts("cooling_total_kWh") + watts("compressor_kWh")
        rows = (
            ("suction, saturated", at("suction_temp_C"), "temperature"),
            ("coil surface (apparatus dew point)", at("surface_temp_C"), "temperature"),
            ("condensing, saturated", at("condensing_temp_C"), "temperature"),
            ("compressor runs", at("compressor_runtime_frac"), "fraction"),
            ("capacity in use while it runs", at("capacity_frac"), "fraction"),
            ("compressor power", watts("compressor_kWh"), "power"),
            ("condenser fan power", watts("condenser_fan_kWh"), "power"),
            ("heat rejected", rejected, "heat flow"),
            ("of it to the reheat coil", to_air, "heat flow"),
            ("of it outdoors", rejected - to_air, "heat flow"),
            *self._coil_shares(to_air),
        )
        return tuple(row for row in rows if np.isfinite(row[1]))

    def _coil_shares(self, to_air_W: float) -> tuple[tuple[str, float, str], ...]:
        """What the refrigerant does in the reheat coil, where hot gas enters and liquid leaves."""
        unit, plant = self.machine.unit, self.machine.plant
        if to_air_W <= 0.5 or not unit.refrigerant:
            return ()
        first: tuple[tuple[str, float, str], ...] = ()
        if plant.arrangement in (SUBCOOLING, SUBCOOLING_THEN_CONDENSER):
            liquid_W = to_air_W
            if plant.arrangement == SUBCOOLING_THEN_CONDENSER:
                liquid_W = self._by_subcooling()
                # What cooling mode and the first coil do alone leaves nothing but rounding.
                liquid_W = liquid_W if liquid_W < 0.998 * to_air_W else to_air_W
            first = (("in the subcooling coil: liquid subcooled", liquid_W, "heat flow"),)
            to_air_W -= liquid_W
        if to_air_W <= 0.5 or plant.arrangement == WRAP_AROUND:
            return first
        found = cycle_at(unit, self.at("suction_temp_C"), self.at("condensing_temp_C"))
        shares = coil_shares(found, to_air_W)
        return (
            *first,
            ("in the reheat coil: superheat given up", shares.desuperheating_W, "heat flow"),
            ("in the reheat coil: condensed", shares.condensing_W, "heat flow"),
            ("in the reheat coil: liquid subcooled", shares.subcooling_W, "heat flow"),
            ("discharge gas", found.discharge_temp_C, "temperature"),
        )

    def _by_subcooling(self) -> float:
        at, watts, plant = self.at, self.watts, self.machine.plant
        w = at("mixed_hum_ratio_kg_kg")
        flow = at("supply_flow_kg_s")
        fan = at("fan_runtime_frac")
        fan_rise = self._fan_W() / fan / (flow * heat_capacity(w))
        onto = at("mixed_temp_C") + (fan_rise if plant.blow_through == 1 else 0.0)
        return heat_by_subcooling(
            self.machine,
            AirIn(onto, w, self.driver("pressure_Pa"), at("outdoor_temp_C"), flow),
            watts("cooling_sensible_kWh") - watts("overcooling_heat_kWh"),
            at("condensate_kg") / 3600.0,
            at("condensing_temp_C"),
            1 if self.driver("fan_mode") == FAN_CYCLING else 0,
        )

    def decision(self, display: Display) -> str:
        """What control decided in the hour and why, in a few sentences."""
        return " ".join(part for part in (self._why(display), self._out_of_range()) if part)

    def _why(self, display: Display) -> str:
        at = self.at
        if self.driver("fan_mode") == FAN_OFF:
            return "The schedule keeps the unit off."
        runtime = at("compressor_runtime_frac")
        running = f"the compressor runs {100.0 * runtime:.0f} % of the hour"
        if at("moisture_call_flag") > 0.0:
            limit = self._limit(display)
            if at("full_capacity_flag") > 0.0:
                text = (
                    f"Dehumidification call, but holding {limit} takes more dehumidification "
                    "than the "
                    "unit has: it runs at full capacity, and reheat adds none."
                )
            elif at("reheat_short_flag") > 0.0:
                text = (
                    f"Dehumidification call, but holding {limit} would overcool the room by "
                    "more than "
                    f"the reheat available; {running}."
                )
            else:
                text = (
                    f"Dehumidification call: cooling for temperature alone would not hold {limit}; "
                    f"{running}."
                )
            return text + self._reheat_words(display)
        if at("full_capacity_flag") > 0.0:
            return (
                "The sensible load is more than the unit has: it runs at full capacity and the "
                "room warms."
            )
        if at("cooling_total_kWh") > 0.0:
            wet = (
                " and the coil removes moisture"
                if at("condensate_kg") > 0.0
                else "; its coil stays dry"
            )
            return f"Cooling call only: {running}{wet}."
        if at("heating_kWh") > 0.0:
            return "The room needs heating; the coil is off."
        return "No call: the room floats between its set points."

    def _limit(self, display: Display) -> str:
        unit = self.machine.control.outdoor_air_unit
        if unit.used == 1:
            dew_point_C = supply_dew_point(
                self.machine.control,
                self.driver("outdoor_temp_C"),
                self.driver("outdoor_hum_ratio_kg_kg"),
                self.driver("pressure_Pa"),
            )
            return f"the supply dew point of {show(dew_point_C, 'temperature', display)}"
        limit = self.driver("humidity_limit")
        if self.machine.control.humidity_control == DEW_POINT:
            return f"the dew point limit of {show(limit, 'temperature', display)}"
        return f"the limit of {100.0 * limit:.0f} % RH"

    def _reheat_words(self, display: Display) -> str:
        """The overcooling heat and what met it."""

        def flow(name: str) -> str:
            return show(self.watts(name), "heat flow", display)

        if self.watts("overcooling_heat_kWh") <= 0.5:
            return ""
        parts = [
            f"{flow(name)} {words}"
            for name, words in (
                ("reheat_recovered_kWh", "is recovered"),
                ("reheat_purchased_kWh", "is purchased"),
                ("reheat_unmet_kWh", "is unmet and cools the room"),
            )
            if self.watts(name) > 0.5
        ]
        text = f" Overcooling heat is {flow('overcooling_heat_kWh')}, of which {', '.join(parts)}."
        swing = self.at("temp_swing_K")
        if swing > 0.0:
            text += (
                " Between cooling and dehumidification the room temperature varies by "
                f"{show(swing, 'temperature difference', display)}."
            )
        return text

    def _out_of_range(self) -> str:
        rh, low, high = self.at("room_rh_frac"), self.machine.range_low, self.machine.range_high
        above, below = out_of_range(np.array([rh]), low, high)
        if not (above[0] or below[0]):
            return ""
        where = "above" if above[0] else "below"
        dry = "" if above[0] else "; dehumidification cannot correct this, humidification is needed"
        return (
            f"The room ends the hour at {100.0 * rh:.0f} % RH, {where} its range of "
            f"{100.0 * low:.0f} to {100.0 * high:.0f} %{dry}."
        )
