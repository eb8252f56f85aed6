"""How humid the room gets with what is in place, as its users report, against its model."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dewledger.weather.physics.moist_air import FloatArray

# What "at worst" is held against: the relative humidity that this share of the hours exceeds.
WORST_SHARE = 0.01
# Humidistats in use read 3 % RH either way (common practice), and who reads them rounds.
SCATTER = 0.05


def worst_humidity(room_rh_frac: FloatArray) -> float:
    """Relative humidity that 1 % of the hours of a year exceed, of (hours,) fractions."""
    return float(np.quantile(room_rh_frac, 1.0 - WORST_SHARE))


@dataclass(frozen=True)
class ObservedHumidity:
    """The highest relative humidity seen and the one modeled, as fractions."""

    seen: float
    modeled: float

    @property
    def agrees(self) -> bool:
        """Whether they differ by no more than instruments and rounding do."""
        return abs(self.modeled - self.seen) <= SCATTER + 1e-9

    @property
    def brief(self) -> str:
        """Both figures in a sentence."""
        verdict = "they agree within 5 points" if self.agrees else "they do not agree"
        return (
            f"Users say that the room gets up to {100.0 * self.seen:.0f} % RH; as modeled it "
            f"gets to {100.0 * self.modeled:.0f} % RH (1 % of the hours are above): {verdict}."
        )

    @property
    def sentence(self) -> str:
        """Both figures, what it means where they do not agree, and what to do."""
        if self.agrees:
            return self.brief
        if self.modeled > self.seen:
            means = (
                "The model is damper than the room, and the cost of drying it is then reported too "
                "high: infiltration, outdoor air, moisture gains or hours may be lower than "
                "assumed, or the dampest hours go unseen"
            )
        else:
            means = (
                "The model is drier than the room, and the cost of drying it is then reported too "
                "low: infiltration, outdoor air or moisture gains may be higher than assumed, or "
                "the unit dries less than its rating"
            )
        return f"{self.brief} {means}; a logger in the room for some weeks settles it."


def observed(seen: float | None, room_rh_frac: FloatArray) -> ObservedHumidity | None:
    """What is seen and what is modeled; None where what is seen is not stated."""
    return None if seen is None else ObservedHumidity(seen, worst_humidity(room_rh_frac))
