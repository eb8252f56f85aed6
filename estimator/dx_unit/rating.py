"""A rating as a data sheet states it, and what it means gross of the supply fan.

Net ratings (AHRI): capacity less supply fan heat, over the power of compressor, outdoor and supply
fan. Gross ratings: coil capacity, over the power of compressor and outdoor fan.

Source: AHRI Standard 210/240 and 340/360 for the rating conditions (not checked against the text).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from dewledger.components.cooling_coil import ImpossibleRatio, apparatus_dew_point
from dewledger.components.refrigerants import DEFAULT_SUBCOOLING_K, DEFAULT_SUPERHEAT_K
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import (
    STANDARD_AIR_DENSITY,
    STANDARD_PRESSURE_PA,
    hum_ratio_from_wet_bulb,
)

TON_W = 3516.8528

# AHRI Standard 210/240 and 340/360 cooling rating condition: 80 F dry bulb and 67 F wet bulb
# entering, 95 F outdoors (not checked against the text).
RATING_TEMP_IN_C = 80.0 / 1.8 - 32.0 / 1.8
RATING_WET_BULB_C = 67.0 / 1.8 - 32.0 / 1.8
RATING_OUTDOOR_C = 35.0
# AHRI Standard 210/240 default for a coil rated without its fan: 365 W per 1000 cfm (not checked
# against the text), in W per m3/s.
DEFAULT_FAN_W_M3_S = 365.0 / 0.47194745
# Common practice, no source: typical of comfort units at the rating condition.
TYPICAL_CONDENSER_FAN_W_TON = 70.0


@dataclass(frozen=True)
class RatingCondition:
    """Where a rating holds: air that enters the coil and outdoor air [C], at a pressure [Pa]."""

    temp_in_C: float = RATING_TEMP_IN_C
    wet_bulb_C: float = RATING_WET_BULB_C
    outdoor_C: float = RATING_OUTDOOR_C
    pressure_Pa: float = STANDARD_PRESSURE_PA

    @property
    def hum_ratio_in(self) -> float:
        """Humidity ratio of the entering air [kg/kg dry air]."""
        return hum_ratio_from_wet_bulb(self.temp_in_C, self.wet_bulb_C, self.pressure_Pa)


@dataclass(frozen=True)
class RatingBasis:
    """What a rating counts in: net of the supply fan's heat (AHRI) or gross, air flow and fans.

    The flow is of standard air [m3/s]; a fan power [W] that is not stated is None.
    """

    net: bool
    flow_m3_s: float
    fan_W: float | None = None
    condenser_fan_W: float | None = None

    @property
    def flow_kg_s(self) -> float:
        """Dry air over the coil [kg/s]."""
        return self.flow_m3_s * STANDARD_AIR_DENSITY


@dataclass(frozen=True)
class Rating:
    """One rating as stated: capacities [W], and efficiency [W/W] or compressor power [W]."""

    total_W: float
    sensible_W: float
    basis: RatingBasis
    efficiency_cop: float | None = None
    compressor_W: float | None = None
    condition: RatingCondition = RatingCondition()


@dataclass(frozen=True)
class Circuit:
    """The refrigerant of a unit: saturated temperatures at the rating [C], None where not stated,
    superheat and subcooling [K]."""

    refrigerant: str
    suction_C: float | None = None
    condensing_C: float | None = None
    superheat_K: float = DEFAULT_SUPERHEAT_K
    subcooling_K: float = DEFAULT_SUBCOOLING_K


@dataclass(frozen=True)
class GrossRating:
    """A rating gross of the supply fan [W], and notes of the fan powers assumed."""

    total_W: float
    sensible_W: float
    fan_W: float
    condenser_fan_W: float
    notes: tuple[str, ...]


def supply_fan(basis: RatingBasis) -> tuple[float, tuple[str, ...]]:
    """Supply fan power [W] inside a rating, with a note where it is the standard's default."""
    if not basis.net:
        return 0.0, ()
    if basis.fan_W is not None:
        return basis.fan_W, ()
    fan_W = DEFAULT_FAN_W_M3_S * basis.flow_m3_s
    return fan_W, (
        f"Rating fan power not stated: {fan_W:.0f} W taken, 365 W per 1000 cfm, the default of "
        "AHRI Standard 210/240 (not checked against the text).",
    )


def condenser_fan(stated_W: float | None, gross_total_W: float) -> tuple[float, tuple[str, ...]]:
    """Outdoor fan power [W], with a note where it is a typical one."""
    if stated_W is not None:
        return stated_W, ()
    fan_W = TYPICAL_CONDENSER_FAN_W_TON * gross_total_W / TON_W
    return fan_W, (
        f"Outdoor fan power not stated: {fan_W:.0f} W taken, {TYPICAL_CONDENSER_FAN_W_TON:.0f} W "
        "per ton (common practice, no source).",
    )


def gross_rating(rating: Rating) -> GrossRating:
    """Capacities and fans of a rating, gross of the supply fan [W].

    Raises
    ------
    InputError : a capacity or a flow that is none, a sensible capacity above the total
    """
    basis = rating.basis
    for value, what in (
        (rating.total_W, "total capacity"),
        (rating.sensible_W, "sensible capacity"),
    ):
        if not (math.isfinite(value) and value > 0.0):
            raise InputError(f'the unit\'s rated {what} must be above zero, such as "90 kBtu/h"')
    check_flow(basis)
    if rating.sensible_W > rating.total_W:
        raise InputError(
            f"the unit's rated sensible capacity, {rating.sensible_W / 1000:.3g} kW, is above its "
            f"total of {rating.total_W / 1000:.3g} kW; it must be part of it"
        )
    fan_W, fan_notes = supply_fan(basis)
    total_W = rating.total_W + fan_W
    condenser_fan_W, condenser_notes = condenser_fan(basis.condenser_fan_W, total_W)
    return GrossRating(
        total_W=total_W,
        sensible_W=rating.sensible_W + fan_W,
        fan_W=fan_W,
        condenser_fan_W=condenser_fan_W,
        notes=(*fan_notes, *condenser_notes),
    )


def check_flow(basis: RatingBasis) -> None:
    """Raise InputError for a rated air flow that is none."""
    if not (math.isfinite(basis.flow_m3_s) and basis.flow_m3_s > 0.0):
        raise InputError('the unit\'s rated air flow must be above zero, such as "3000 cfm"')


def rated_compressor_power(rating: Rating, gross: GrossRating) -> float:
    """Compressor power [W] that a rating states, or leaves it by its efficiency.

    Raises
    ------
    InputError : powers that leave the compressor nothing, or disagree
    """
    if (rating.efficiency_cop is None) == (rating.compressor_W is None):
        raise InputError(
            "the unit's rating needs either an efficiency or a compressor power, not both; write "
            'for example "11.2 EER"'
        )
    if rating.compressor_W is not None:
        if not rating.compressor_W > 0.0:
            raise InputError(
                'the unit\'s rated compressor power must be above zero, such as "6 kW"'
            )
        return rating.compressor_W
    assert rating.efficiency_cop is not None
    if not rating.efficiency_cop > 0.0:
        raise InputError('the unit\'s rated efficiency must be above zero, such as "11.2 EER"')
    power = rating.total_W / rating.efficiency_cop
    compressor_W = power - gross.condenser_fan_W - gross.fan_W
    if compressor_W < 0.3 * power:
        raise InputError(
            f"the rated efficiency means {power:.0f} W in total, of which the fans take "
            f"{gross.condenser_fan_W + gross.fan_W:.0f} W: too little is left for the compressor; "
            "check the efficiency and the fan powers"
        )
    return compressor_W


def rated_coil(
    total_W: float,
    sensible_W: float,
    flow_kg_s: float,
    condition: RatingCondition,
    fan_W: float = 0.0,
) -> tuple[float, float]:
    """Apparatus dew point [C] and bypass factor of a gross rating.

    ``fan_W`` is the supply fan's heat that the rating was stated net of, so that an impossible
    ratio is reported, and the nearest possible one, as it was stated.

    Raises
    ------
    ImpossibleRatio : a sensible heat ratio that no coil has; InputError : other impossible ratings
    """
    temp_in_C, wet_bulb_C = condition.temp_in_C, condition.wet_bulb_C
    if wet_bulb_C > temp_in_C:
        raise InputError(
            f"the rated entering wet bulb of {wet_bulb_C:.1f} C is above the dry bulb of "
            f"{temp_in_C:.1f} C; it must be below"
        )
    w = condition.hum_ratio_in
    if w <= 0.0:
        raise InputError(
            f"a wet bulb of {wet_bulb_C:.1f} C cannot go with a dry bulb of {temp_in_C:.1f} C in "
            "the rating; check both"
        )
    try:
        surface, bypass = apparatus_dew_point(
            temp_in_C, w, total_W, sensible_W, flow_kg_s, condition.pressure_Pa
        )
    except ImpossibleRatio as problem:
        net_W = total_W - fan_W
        stated, nearest = ((r * total_W - fan_W) / net_W for r in (problem.ratio, problem.nearest))
        raise ImpossibleRatio(stated, nearest) from None
    return surface, max(bypass, 1e-4)
