"""Moisture re-evaporated from a wet coil while the compressor is off and the fan runs on.

Henderson and Rengarajan, "A model to predict the latent capacity of air conditioners and heat pumps
at part-load conditions with constant fan operation", ASHRAE Transactions 102(1), 1996 (equations
not checked against the text). Condensate held on the coil evaporates while the fan runs without the
compressor; the next cycle first fills the coil again before any water drains.
"""

from __future__ import annotations

import math

from dewledger.weather.numerics.compiled import compiled


@compiled
def latent_ratio(
    runtime: float,
    wet_time_s: float,
    evaporation_ratio: float,
    start_up_time_s: float,
    cycles_per_hour: float,
) -> float:
    """Latent removal as a share of what steady running would remove in the same runtime.

    Parameters
    ----------
    runtime : runtime fraction X of the compressor, 0 to 1
    wet_time_s : retained water times heat of vaporization over the steady latent capacity
    evaporation_ratio : initial off-cycle evaporation over the steady latent capacity, gamma
    start_up_time_s : time constant of the latent capacity after a start, tau
    cycles_per_hour : highest cycling rate, met at X = 0.5 (thermostat law N = 4 Nmax X (1 - X))

    The total capacity is unchanged: what is lost in latent is gained in sensible cooling.

    A share [1].
    """
    if runtime >= 1.0:
        return 1.0
    if runtime <= 0.0:
        return 0.0
    on_time = 3600.0 / (4.0 * cycles_per_hour * (1.0 - runtime))
    off_time = 3600.0 / (4.0 * cycles_per_hour * runtime)
    # Seconds of steady latent capacity that evaporate: the rate falls linearly as the coil dries.
    evaporated = 0.0
    if evaporation_ratio > 0.0 and wet_time_s > 0.0:
        drying = min(off_time, 2.0 * wet_time_s / evaporation_ratio)
        evaporated = evaporation_ratio * drying - (evaporation_ratio * drying) ** 2 / (
            4.0 * wet_time_s
        )
    if start_up_time_s <= 0.0:
        return min(max(1.0 - evaporated / on_time, 0.0), 1.0)
    # Time to fill the coil again: t + tau (exp(-t / tau) - 1) = evaporated, by Newton from above.
    fill = evaporated + start_up_time_s
    for _ in range(100):
        decay = math.exp(-fill / start_up_time_s)
        slope = 1.0 - decay
        if slope < 1e-12:
            break
        step = (fill + start_up_time_s * (decay - 1.0) - evaporated) / slope
        fill -= step
        if abs(step) < 1e-4:  # Newton squares the error
            break
    full = on_time + start_up_time_s * (math.exp(-on_time / start_up_time_s) - 1.0)
    return min(max((on_time - fill) / full, 0.0), 1.0)


@compiled
def moisture_cycles_per_hour(removal_kg_s: float, band_kg: float) -> float:
    """Highest cycling rate [1/h] under a humidistat: Nmax = R / (4 m M dW).

    Parameters
    ----------
    removal_kg_s : R, water the unit removes per second while it runs
    band_kg : m M dW, water that the room's store takes up over the humidistat's differential

    From the moisture balance (derived here): with gain G = X R the humidity falls through the
    differential in band / (R - G) and rises through it in band / G; cycles of their sum follow the
    thermostat law N = 4 Nmax X (1 - X).
    """
    return 3600.0 * removal_kg_s / (4.0 * band_kg)


@compiled
def scaled_wet_time(wet_time_s: float, rated_latent_W: float, latent_W: float) -> float:
    """Wet time [s] at another steady latent capacity: the water held stays the same."""
    return wet_time_s * rated_latent_W / latent_W


@compiled
def scaled_evaporation_ratio(
    evaporation_ratio: float,
    rated_latent_W: float,
    latent_W: float,
    rated_depression_K: float,
    depression_K: float,
) -> float:
    """Gamma elsewhere: evaporation follows the wet-bulb depression of the air on the coil.

    A ratio [1]: gamma x (latent_rated / latent) x (depression / depression_rated).
    """
    return evaporation_ratio * (depression_K / rated_depression_K) * (rated_latent_W / latent_W)
