"""Overall isentropic efficiency of a compressor over pressure ratio.

Efficiency here is ideal work over electric power, motor included. It depends on the pressure ratio
almost alone: a scroll compressor does best near the ratio it is built for and loses on either side,
where its pockets open too late or too early.

Source: the published ten-coefficient map of a scroll compressor named at the figures below.
"""

from __future__ import annotations

import numpy as np

from dewledger.weather.physics.moist_air import FloatArray

# Computed with reference properties (CoolProp) from the public ten-coefficient map of a 3-ton
# R-410A scroll compressor on a 20 F superheat basis; the map was read, these follow from it.
SCROLL_RATIO = np.array(
    [1.47, 1.60, 1.73, 1.86, 2.00, 2.14, 2.30, 2.50, 2.70, 3.00, 3.40, 3.85, 4.20, 4.70]
)
SCROLL_EFFICIENCY = np.array(
    [0.54, 0.60, 0.64, 0.67, 0.69, 0.71, 0.72, 0.72, 0.72, 0.71, 0.68, 0.63, 0.60, 0.54]
)
# What the compressor of a rating may have at the rating's own lift (common practice, no source; the
# map above reaches 72 %).
LEAST_EFFICIENCY, MOST_EFFICIENCY = 0.45, 0.80


def scroll_efficiency(pressure_ratio: FloatArray) -> FloatArray:
    """Efficiency [0-1] of the published scroll compressor at pressure ratios (any shape).

    Monotone cubic pieces through the table; held at its ends, 1.47 and 4.7.
    """
    from scipy.interpolate import PchipInterpolator

    held = np.clip(pressure_ratio, SCROLL_RATIO[0], SCROLL_RATIO[-1])
    return np.asarray(PchipInterpolator(SCROLL_RATIO, SCROLL_EFFICIENCY)(held), dtype=np.float64)
