"""A unit calibrated at one rating point, against twelve published full-load points.

HVAC BESTEST volume 1 (NREL/TP-550-30152, 2002): the R-22 unit of cases E100-E200. The points are
the unit's map inverted at the published operating points of quasi-analytical solution A (computed,
sure to about 0.1 %). Only E200 is used to calibrate.
"""

from __future__ import annotations

from functools import cache

from dewledger.dx_unit.from_rating import unit_from_ratings
from dewledger.dx_unit.steady_state import steady_state
from dewledger.dx_unit.types import Unit
from dewledger.published.check import DERIVED, Check
from dewledger.weather.physics.moist_air import (
    STANDARD_AIR_DENSITY,
    STANDARD_PRESSURE_PA,
    hum_ratio_from_wet_bulb,
)

# outdoor C, entering dry bulb C, entering wet bulb C, gross total W, gross sensible W, compressor W
POINTS = {
    "E110": (29.4, 22.2, 13.935, 7102.0, 7102.0, 1593.9),
    "E150": (29.4, 22.2, 15.502, 7546.1, 6311.4, 1627.0),
    "E120": (29.4, 26.7, 16.809, 7908.7, 7908.7, 1654.2),
    "E170": (29.4, 22.2, 17.336, 8062.4, 5392.3, 1665.7),
    "E160": (29.4, 26.7, 18.525, 8393.4, 7014.8, 1690.5),
    "E190": (29.4, 22.2, 21.457, 9226.5, 3320.0, 1752.8),
    "E180": (29.4, 22.2, 21.730, 9303.6, 3182.7, 1758.6),
    "E200": (35.0, 26.7, 19.427, 8188.0, 6369.4, 1859.6),
    "E165": (40.6, 23.3, 16.800, 7072.3, 5919.9, 1972.6),
    "E100": (46.1, 22.2, 14.781, 6190.3, 6190.3, 2105.7),
    "E195": (46.1, 22.2, 21.156, 7595.3, 2925.7, 2203.4),
    "E185": (46.1, 22.2, 21.637, 7701.4, 2679.0, 2210.8),
}
FLOW_M3_S = 0.425


@cache
def calibrated() -> Unit:
    """The unit from its E200 rating point alone."""
    outdoor, temp, wet_bulb, total, sensible, power = POINTS["E200"]
    return unit_from_ratings(
        refrigerant="R-22",
        total_W=total,
        sensible_W=sensible,
        net=False,
        compressor_W=power,
        rated_flow_m3_s=FLOW_M3_S,
        condenser_fan_W=108.0,
        temp_in_C=temp,
        wet_bulb_C=wet_bulb,
        outdoor_C=outdoor,
        suction_C=7.2,
        condensing_C=49.0,
        superheat_K=5.6,
        subcooling_K=5.6,
        surface_floor_C=-20.0,
    )


@cache
def computed(point: str) -> tuple[float, float, float]:
    """Gross total, gross sensible, compressor power [W] of the calibrated unit at a point."""
    outdoor, temp, wet_bulb, *_ = POINTS[point]
    unit = calibrated().map
    w = hum_ratio_from_wet_bulb(temp, wet_bulb, STANDARD_PRESSURE_PA)
    flow = FLOW_M3_S * STANDARD_AIR_DENSITY
    condensing = outdoor + 14.0
    total = sensible = power = 0.0
    for _ in range(50):
        total, sensible, power, *_rest = steady_state(
            unit, 1.0, temp, w, STANDARD_PRESSURE_PA, flow, condensing, 10.0
        )
        condensing = outdoor + (total + power) / unit.condenser_conductance_W_K
    return total, sensible, power


def checks() -> tuple[Check, ...]:
    """Capacity within 6 %, sensible and power within 5 %."""
    found = []
    source = "NREL/TP-550-30152 (2002), map inverted at published operating points"
    for point, (outdoor, temp, wet_bulb, *values) in POINTS.items():
        for k, (item, tolerance) in enumerate(
            (("total", 0.06), ("sensible", 0.05), ("compressor", 0.05))
        ):
            found.append(
                Check(
                    "Unit from one rating",
                    f"{point} {item}, {temp}/{wet_bulb:.1f} C, {outdoor} C out",
                    source, values[k], "W", tolerance,
                    "one calibration point, typical suction and condensing temperatures assumed",
                    lambda p=point, i=k: computed(p)[i], False, DERIVED,
                )
            )  # fmt: skip
    return tuple(found)
