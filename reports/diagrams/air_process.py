"""The air of one hour: its states, how it passes between them, and each state in figures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from dewledger.quantities import Display, rounded
from dewledger.reports.diagrams.psychrometric_lines import SCALES
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import (
    CP_DRY_AIR,
    CP_VAPOR,
    FloatArray,
    dew_point,
    enthalpy,
    rel_hum_from_hum_ratio,
    saturation_hum_ratio,
    vapor_enthalpy,
    wet_bulb,
)

StepKind = Literal["mixing", "cooling", "reheat", "fan", "heating", "room", "other"]

KEY_COLUMNS = (
    ("dry bulb", "temp"),
    ("humidity ratio", "ratio"),
    ("RH", "rel_hum"),
    ("wet bulb", "temp"),
    ("dew point", "temp"),
    ("enthalpy", "enthalpy"),
)


@dataclass(frozen=True)
class StatePoint:
    """One numbered state of the air: what it is called, where it is, what happened to it."""

    label: str
    temp_C: float
    hum_ratio: float
    explanation: str


@dataclass(frozen=True)
class Step:
    """The air goes from one state to another (places in ``Process.points``, from 0)."""

    start: int
    end: int
    kind: StepKind


@dataclass(frozen=True)
class Process:
    """The states of one hour and how the air passes between them.

    coil_line : the path through the cooling coil (C, kg/kg), drawn instead of a straight
        "cooling" step where given
    room_shr_line : the line of the room's sensible heat ratio (C, kg/kg), see ``room_line``
    room_shr : that ratio, for the key
    """

    points: tuple[StatePoint, ...]
    steps: tuple[Step, ...] = ()
    coil_line: tuple[FloatArray, FloatArray] | None = None
    room_shr_line: tuple[FloatArray, FloatArray] | None = None
    room_shr: float | None = None


@dataclass(frozen=True)
class HumidityRange:
    """The relative humidities wanted, between two room temperatures."""

    low_frac: float
    high_frac: float
    temp_low_C: float
    temp_high_C: float


def room_line(
    temp_C: float, hum_ratio: float, sensible_ratio: float, temp_end_C: float
) -> tuple[FloatArray, FloatArray]:
    """Supply states that meet a room's sensible and latent load together, from the room outward.

    With sensible heat m cp(W) (T_room - T) and latent heat m (W_room - W) h_vapor(T_room), whose
    sum is the enthalpy difference. Returns (C, kg/kg).

    Raises
    ------
    InputError : a ratio not above zero
    """
    if not sensible_ratio > 0.0:
        raise InputError(
            f"a room sensible heat ratio of {sensible_ratio:g} has no supply line; it must be "
            "above 0 and is 1 for a room without moisture load"
        )
    temps = np.linspace(temp_C, temp_end_C, 41)
    share = (1.0 - sensible_ratio) / sensible_ratio * (temp_C - temps)
    vapor = vapor_enthalpy(temp_C)
    ratios: FloatArray = (hum_ratio * vapor - share * CP_DRY_AIR) / (vapor + share * CP_VAPOR)
    return temps, ratios


def state_figures(point: StatePoint, pressure_Pa: float, display: Display) -> tuple[str, ...]:
    """A state in figures, without units, in the order of ``state_headings``."""
    scales = SCALES[display]
    temp, ratio = point.temp_C, point.hum_ratio
    shown = (
        _tenths(float(scales.temp(temp))),
        rounded(float(scales.ratio(ratio))),
        f"{100.0 * rel_hum_from_hum_ratio(temp, ratio, pressure_Pa):.0f}",
        _tenths(float(scales.temp(wet_bulb(temp, ratio, pressure_Pa)))),
        _tenths(float(scales.temp(dew_point(ratio, pressure_Pa)))),
        rounded(float(scales.enthalpy(enthalpy(temp, ratio)))),
    )
    return tuple(text.replace("-", "−") for text in shown)


def state_headings(display: Display) -> tuple[tuple[str, str], ...]:
    """The headings of ``state_figures`` and their units."""
    scales = SCALES[display]
    units = {
        "temp": scales.temp_unit,
        "ratio": scales.ratio_unit,
        "rel_hum": "%",
        "enthalpy": scales.enthalpy_unit,
    }
    return tuple((name, units[kind]) for name, kind in KEY_COLUMNS)


def _tenths(number: float) -> str:
    text = f"{number:.1f}"
    return "0.0" if text == "-0.0" else text


def check_drawable(
    pressure_Pa: float,
    points: tuple[StatePoint, ...],
    hours: tuple[FloatArray, FloatArray] | None,
    humidity_range: HumidityRange | None,
) -> None:
    """Raise InputError where a chart cannot show what it is given."""
    if not 50_000.0 <= pressure_Pa <= 110_000.0:
        raise InputError(
            f"a pressure of {pressure_Pa:g} Pa is not one of outdoor air; "
            "give 50000 to 110000 Pa (101325 at sea level)"
        )
    for point in points:
        if not (-60.0 <= point.temp_C <= 90.0 and 0.0 < point.hum_ratio < 0.2):
            raise InputError(
                f'state "{point.label}" is off any chart; give a dry bulb of -60 to 90 C and a '
                "humidity ratio above 0 and below 0.2 kg/kg"
            )
        if point.hum_ratio > 1.005 * saturation_hum_ratio(point.temp_C, pressure_Pa):
            raise InputError(
                f'state "{point.label}" holds more water than air can at its dry bulb; '
                "give a humidity ratio at or below saturation"
            )
    if hours and not (
        hours[0].shape == hours[1].shape
        and np.isfinite(hours[0]).all()
        and np.isfinite(hours[1]).all()
        and (hours[1] >= 0.0).all()
    ):
        raise InputError(
            "the hours of the chart must be two arrays of one length without gaps: dry bulb in C, "
            "humidity ratio in kg/kg"
        )
    if humidity_range and not (
        0.0 <= humidity_range.low_frac < humidity_range.high_frac <= 1.0
        and humidity_range.temp_low_C < humidity_range.temp_high_C
    ):
        raise InputError(
            "a humidity range goes from a lower to a higher relative humidity (0 to 1) and from a "
            "lower to a higher temperature"
        )
