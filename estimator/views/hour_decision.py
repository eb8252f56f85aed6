"""What control decided in one hour and why, in a few sentences."""

from __future__ import annotations

import numpy as np

from dewledger.accounts.humidity_criteria import out_of_range
from dewledger.hourly.outdoor_air_unit import supply_dew_point
from dewledger.hourly.types import DEW_POINT, FAN_OFF
from dewledger.quantities import Display, show
from dewledger.views.solved_hour import SolvedHour


def decision(solved: SolvedHour, display: Display) -> str:
    """What control decided in the hour and why, in a few sentences."""
    return " ".join(part for part in (_why(solved, display), _out_of_range(solved)) if part)


def _why(solved: SolvedHour, display: Display) -> str:
    at = solved.at
    if solved.driver("fan_mode") == FAN_OFF:
        return "The schedule keeps the unit off."
    runtime = at("compressor_runtime_frac")
    running = f"the compressor runs {100.0 * runtime:.0f} % of the hour"
    if at("moisture_call_flag") > 0.0:
        limit = _limit(solved, display)
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
        return text + _reheat_words(solved, display)
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


def _limit(solved: SolvedHour, display: Display) -> str:
    unit = solved.machine.control.outdoor_air_unit
    if unit.used == 1:
        dew_point_C = supply_dew_point(
            solved.machine.control,
            solved.driver("outdoor_temp_C"),
            solved.driver("outdoor_hum_ratio_kg_kg"),
            solved.driver("pressure_Pa"),
        )
        return f"the supply dew point of {show(dew_point_C, 'temperature', display)}"
    limit = solved.driver("humidity_limit")
    if solved.machine.control.humidity_control == DEW_POINT:
        return f"the dew point limit of {show(limit, 'temperature', display)}"
    return f"the limit of {100.0 * limit:.0f} % RH"


def _reheat_words(solved: SolvedHour, display: Display) -> str:
    """The overcooling heat and what met it."""

    def flow(name: str) -> str:
        return show(solved.watts(name), "heat flow", display)

    if solved.watts("overcooling_heat_kWh") <= 0.5:
        return ""
    parts = [
        f"{flow(name)} {words}"
        for name, words in (
            ("reheat_recovered_kWh", "is recovered"),
            ("reheat_purchased_kWh", "is purchased"),
            ("reheat_unmet_kWh", "is unmet and cools the room"),
        )
        if solved.watts(name) > 0.5
    ]
    text = f" Overcooling heat is {flow('overcooling_heat_kWh')}, of which {', '.join(parts)}."
    swing = solved.at("temp_swing_K")
    if swing > 0.0:
        text += (
            " Between cooling and dehumidification the room temperature varies by "
            f"{show(swing, 'temperature difference', display)}."
        )
    return text


def _out_of_range(solved: SolvedHour) -> str:
    rh, low, high = solved.at("room_rh_frac"), solved.machine.range_low, solved.machine.range_high
    above, below = out_of_range(np.array([rh]), low, high)
    if not (above[0] or below[0]):
        return ""
    where = "above" if above[0] else "below"
    dry = "" if above[0] else "; dehumidification cannot correct this, humidification is needed"
    return (
        f"The room ends the hour at {100.0 * rh:.0f} % RH, {where} its range of "
        f"{100.0 * low:.0f} to {100.0 * high:.0f} %{dry}."
    )
