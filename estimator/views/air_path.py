"""The air of one hour: its states in the order in which the air meets them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from dewledger.dx_unit.types import SUBCOOLING, WRAP_AROUND
from dewledger.views.solved_hour import SolvedHour
from dewledger.weather.physics.moist_air import heat_capacity

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


def path(solved: SolvedHour) -> list[Point]:
    """States in the order the air meets them while the compressor runs; then the mean."""
    at = solved.at
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
            Point("Room", "air", room_temp, room_w, 0.0, "At the end of the hour; no air moves."),
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
        *_after_device(solved, outdoor),
        Point(
            "Return", "air", room_temp, room_w, flow - outdoor_flow,
            "Air as it leaves the room.",
        ),
        mixed,
        *_through_unit(solved, mixed, fan),
    ]  # fmt: skip
    points.append(
        Point("Room", "room", room_temp, room_w, flow, "The room at the end of the hour.")
    )
    return points


def _after_device(solved: SolvedHour, outdoor: Point) -> list[Point]:
    """Outdoor air after a recovery device, where one does anything."""
    heat, moisture = (
        solved.watts("outdoor_recovery_sensible_kWh"),
        solved.at("outdoor_recovery_moisture_kg"),
    )
    rate = solved.at("outdoor_air_kg_s")
    if rate <= 0.0 or (abs(heat) < 0.5 and abs(moisture) < 1e-6):
        return []
    w = outdoor.hum_ratio + moisture / 3600.0 / rate
    return [
        Point(
            "After recovery", "exchange", outdoor.temp_C + heat / (rate * heat_capacity(w)), w,
            outdoor.flow_kg_s, "Outdoor air after the recovery device.",
        )
    ]  # fmt: skip


def _through_unit(solved: SolvedHour, mixed: Point, fan: float) -> list[Point]:
    """From the mixed air to the supply."""
    at, plant = solved.at, solved.machine.plant
    runtime = at("compressor_runtime_frac")
    flow = mixed.flow_kg_s
    fan_W = solved.fan_W() / fan
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
    recovered = solved.watts("reheat_recovered_kWh")
    purchased = solved.watts("reheat_purchased_kWh")
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
        "After heating", "heating", here, solved.watts("heating_kWh") / fan, "Space heating."
    )
    if 0.0 < runtime < fan - 1e-3:
        go(
            "Supply, mean", "mean", at("supply_temp_C"), at("supply_hum_ratio_kg_kg"),
            "Mean of the hour: the compressor’s running and idle time together.",
        )  # fmt: skip
    return points
