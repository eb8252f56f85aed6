"""One hour told in full: states along the air path, heats between them, refrigeration, decision."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from estimator.accounts import column, hour_label
from estimator.assembly import Machine
from estimator.hour import DRIVERS, FAN_OFF, empty_ledger, solve_year
from estimator.ledger import INDEX
from weather.errors import InputError
from weather.moist_air import (
    FloatArray,
    heat_capacity,
    hum_ratio_from_wet_bulb,
    saturation_hum_ratio,
    vapour_enthalpy,
)
from weather.year import WeatherYear

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
WORST = ("reheat", "dew-point", "dry-bulb", "out-of-range")
# A stated condition is held this long, so that room temperature and humidity settle.
_SETTLE_HOURS = 24 * 60


@dataclass(frozen=True)
class Point:
    """One state of the air: where, what, how much of it (dry air while it flows)."""

    label: str
    temp_C: float
    hum_ratio: float
    flow_kg_s: float
    explanation: str


@dataclass(frozen=True)
class HourStory:
    """One hour of one option.

    heats : (what, W) means over the hour, in the order of the air path
    refrigeration : (what, value, kind of quantity)
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


def worst_hour(ledger: FloatArray, machine: Machine, year: WeatherYear, what: str) -> int:
    """The hour in which the named thing is at its worst."""
    if what == "reheat":
        return int(np.argmax(column(ledger, "overcooling_heat_kWh")))
    if what == "dew-point":
        return int(np.argmax(year.frame["temp_dew_C"].to_numpy()))
    if what == "dry-bulb":
        return int(np.argmax(year.frame["temp_air_C"].to_numpy()))
    if what == "out-of-range":
        rh = column(ledger, "room_rh_frac")
        return int(np.argmax(np.maximum(rh - machine.range_high, machine.range_low - rh)))
    raise InputError(f'"{what}" is not known; write one of {", ".join(WORST)}')


def stated_hour(
    machine: Machine,
    outdoor_C: float,
    wet_bulb_C: float,
    pressure_Pa: float,
    sensible_share: float,
    latent_share: float,
) -> tuple[FloatArray, Machine]:
    """A stated outdoor state and share of the largest gains, held until the room has settled.

    Outdoor air, fan, set points and limit are those of the hour with the largest gains.
    Returns the ledger of the settled hour, (columns, 1), and a machine with that one hour.
    """
    if wet_bulb_C > outdoor_C:
        raise InputError("--wet-bulb is above --outdoor; the wet bulb cannot pass the dry bulb")
    ratio = hum_ratio_from_wet_bulb(outdoor_C, wet_bulb_C, pressure_Pa)
    if ratio <= 0.0 or ratio > saturation_hum_ratio(outdoor_C, pressure_Pa) * 1.0001:
        raise InputError("--wet-bulb is too low for --outdoor: such air would hold no moisture")
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
    from dataclasses import replace

    return out, replace(machine, drivers=held)


def tell(ledger: FloatArray, machine: Machine, hour: int, when: str) -> HourStory:
    """The story of one hour of a ledger."""

    def at(name: str) -> float:
        return float(ledger[INDEX[name], hour])

    driver = machine.drivers[hour]
    pressure = float(driver[DRIVERS.index("pressure_Pa")])
    plant = machine.plant
    flow = plant.flow_kg_s
    fan = at("fan_runtime_frac")
    runtime = at("compressor_runtime_frac")
    room_temp, room_w = at("room_temp_C"), at("room_hum_ratio_kg_kg")
    outdoor_flow = at("outdoor_air_kg_s") / fan if fan > 0.0 else 0.0
    points = [
        Point(
            "Outdoor", at("outdoor_temp_C"), at("outdoor_hum_ratio_kg_kg"), outdoor_flow,
            "outdoor air of the hour",
        ),
    ]  # fmt: skip
    recovered = at("reheat_recovered_kWh") * 1000.0
    bought = at("reheat_new_energy_kWh") * 1000.0
    heating = at("heating_kWh") * 1000.0
    room_sensible = room_latent = 0.0
    if fan > 0.0:
        points.append(Point("Return", room_temp, room_w, flow - outdoor_flow, "air from the room"))
        points.append(
            Point(
                "Mixed", at("mixed_temp_C"), at("mixed_hum_ratio_kg_kg"), flow,
                f"return air with {100 * outdoor_flow / flow:.0f} % outdoor air",
            )
        )  # fmt: skip
        temp, w = at("mixed_temp_C"), at("mixed_hum_ratio_kg_kg")
        running = (
            ""
            if runtime >= 0.999
            else f" while the compressor runs, {100 * runtime:.0f} % of the hour"
        )
        if runtime > 0.0:
            temp, w = at("coil_leaving_temp_C"), at("coil_leaving_hum_ratio_kg_kg")
            drying = "cooled and dried" if at("condensate_kg") > 0.0 else "cooled, not dried"
            points.append(Point("Leaving coil", temp, w, flow, f"{drying}{running}"))
            # Condenser heat flows with the compressor, bought heat as long as the fan runs.
            rise = (recovered / runtime + bought / fan) / (flow * heat_capacity(w))
            if rise > 0.0:
                temp += rise
                source = "condenser heat" if bought <= 0.0 else "bought heat"
                if recovered > 0.0 and bought > 0.0:
                    source = "condenser heat and bought heat"
                points.append(
                    Point(
                        "After reheat", temp, w, flow, f"{source}: sensible only, no moisture moves"
                    )
                )
        if plant.blow_through == 0:
            temp += plant.fan_W / (flow * heat_capacity(w))
            points.append(Point("After fan", temp, w, flow, "the fan's power, all of it heat"))
        if heating > 0.0:
            temp += heating / fan / (flow * heat_capacity(w))
            points.append(Point("After heating", temp, w, flow, "space heating"))
        supply_temp, supply_w = at("supply_temp_C"), at("supply_hum_ratio_kg_kg")
        room_sensible = fan * flow * heat_capacity(supply_w) * (room_temp - supply_temp)
        room_latent = fan * flow * (room_w - supply_w) * vapour_enthalpy(room_temp)
    points.append(
        Point("Room", room_temp, room_w, flow if fan > 0.0 else 0.0, "at the end of the hour")
    )
    heats = [
        ("gains in the room, sensible", at("gains_sensible_kWh") * 1000.0),
        ("envelope and infiltration", at("envelope_kWh") * 1000.0),
        ("outdoor air through the unit, sensible", at("ventilation_sensible_kWh") * 1000.0),
        ("supply fan", at("supply_fan_kWh") * 1000.0),
        ("coil, total", -at("cooling_total_kWh") * 1000.0),
        ("coil, sensible", -at("cooling_sensible_kWh") * 1000.0),
        ("coil, latent", -at("cooling_latent_kWh") * 1000.0),
        ("overcooling", at("overcooling_heat_kWh") * 1000.0),
        ("reheat, recovered", recovered),
        ("reheat, bought", bought),
        ("reheat, short", at("reheat_shortfall_kWh") * 1000.0),
        ("space heating", heating),
    ]
    refrigeration: list[tuple[str, float, str]] = []
    if runtime > 0.0:
        compressor = at("compressor_kWh") * 1000.0
        total = at("cooling_total_kWh") * 1000.0
        refrigeration = [
            ("suction, saturated", at("suction_temp_C"), "temperature"),
            ("coil surface", at("surface_temp_C"), "temperature"),
            ("condensing, saturated", at("condensing_temp_C"), "temperature"),
            ("compressor power", compressor, "power"),
            ("heat rejected", total + compressor, "heat flow"),
            ("of it to the reheat coil", recovered, "heat flow"),
            ("of it outdoors", total + compressor - recovered, "heat flow"),
        ]
        refrigeration = [row for row in refrigeration if np.isfinite(row[1])]
    return HourStory(
        when,
        pressure,
        tuple(points),
        tuple(row for row in heats if abs(row[1]) > 0.5),
        tuple(refrigeration),
        _decision(ledger, machine, hour),
        room_sensible,
        room_latent,
        runtime,
    )


def story_at(ledger: FloatArray, machine: Machine, year: WeatherYear, hour: int) -> HourStory:
    """The story of an hour of the year, named by its date."""
    return tell(ledger, machine, hour, hour_label(year, hour))


def _decision(ledger: FloatArray, machine: Machine, hour: int) -> str:
    """What control decided in the hour and why, in a sentence or two."""

    def at(name: str) -> float:
        return float(ledger[INDEX[name], hour])

    if machine.drivers[hour][DRIVERS.index("fan_mode")] == FAN_OFF:
        return "The schedule keeps the unit off."
    running = f"the compressor runs {100 * at('compressor_runtime_frac'):.0f} % of the hour"
    if at("moisture_call_flag") > 0.0:
        if at("full_capacity_flag") > 0.0:
            text = (
                "The limit asks for more drying than the unit has: it runs flat out, and reheat "
                "could not add any drying."
            )
        elif at("reheat_short_flag") > 0.0:
            text = (
                "The limit asks for drying, but the reheat sources cannot give back all that it "
                f"would overcool; {running}."
            )
        else:
            text = (
                f"The humidity limit asks for more drying than the sensible load gives; {running}."
            )
        share = at("overcooling_heat_kWh")
        if share > 0.0:
            back = at("reheat_recovered_kWh") + at("reheat_new_energy_kWh")
            text += (
                f" That overcools the room by {share:.1f} kWh, of which {back:.1f} kWh is given "
                f"back, {at('reheat_recovered_kWh'):.1f} kWh of it from the condenser."
            )
        return text
    if at("full_capacity_flag") > 0.0:
        return "The sensible load is more than the unit has: it runs flat out and the room warms."
    if at("cooling_total_kWh") > 0.0:
        wet = " and dries as it cools" if at("condensate_kg") > 0.0 else "; its coil stays dry"
        return f"Only the sensible load calls: {running}{wet}."
    if at("heating_kWh") > 0.0:
        return "The room needs heating; the coil is off."
    return "Neither temperature nor humidity calls: the room floats between its set points."
