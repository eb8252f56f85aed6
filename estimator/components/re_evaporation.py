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
    ratio, _ = latent_ratio_and_slope(
        runtime, wet_time_s, evaporation_ratio, start_up_time_s, cycles_per_hour
    )
    return ratio


@compiled
def latent_ratio_and_slope(
    runtime: float,
    wet_time_s: float,
    evaporation_ratio: float,
    start_up_time_s: float,
    cycles_per_hour: float,
) -> tuple[float, float]:
    """``latent_ratio`` [1] and its derivative [1] by the runtime; the slope is 0 at a bound.

    Source: as of ``latent_ratio``; derived here.
    """
    if runtime >= 1.0:
        return 1.0, 0.0
    if runtime <= 0.0:
        return 0.0, 0.0
    on_time = 3600.0 / (4.0 * cycles_per_hour * (1.0 - runtime))
    off_time = 3600.0 / (4.0 * cycles_per_hour * runtime)
    on_slope = on_time / (1.0 - runtime)
    # Seconds of steady latent capacity that evaporate: the rate falls linearly as the coil dries.
    evaporated = 0.0
    evaporated_slope = 0.0
    if evaporation_ratio > 0.0 and wet_time_s > 0.0:
        drying = min(off_time, 2.0 * wet_time_s / evaporation_ratio)
        falls = evaporation_ratio * drying / (4.0 * wet_time_s)
        evaporated = evaporation_ratio * drying * (1.0 - falls)
        if drying == off_time:
            evaporated_slope = -evaporation_ratio * (1.0 - 2.0 * falls) * off_time / runtime
    fill = evaporated
    fill_slope = evaporated_slope
    full = on_time
    full_slope = on_slope
    if start_up_time_s > 1e-12 * on_time:
        last = math.exp(-on_time / start_up_time_s)
        full -= start_up_time_s * (1.0 - last)
        full_slope *= 1.0 - last
        if evaporated > 0.0:
            fill, share = time_to_fill(evaporated, start_up_time_s)
            fill_slope = evaporated_slope / share
    ratio = (on_time - fill) / full
    if ratio <= 0.0:
        return 0.0, 0.0
    if ratio >= 1.0:
        return 1.0, 0.0
    return ratio, (on_slope - fill_slope - ratio * full_slope) / full


@compiled
def time_to_fill(evaporated_s: float, start_up_time_s: float) -> tuple[float, float]:
    """Time [s] in which a coil fills again, and the share of its capacity it has by then.

    t + tau (exp(-t / tau) - 1) = evaporated, by Newton: from above, or where little has evaporated
    from the series in sqrt(2 evaporated / tau) that inverts it (Lambert's function about its branch
    point), most often in one look.
    """
    asked = evaporated_s / start_up_time_s
    x = asked + 1.0
    if asked < 2.0:
        r = math.sqrt(2.0 * asked)
        inner = 1.0 / 270.0 + r * (1.0 / 4320.0 - r * (1.0 / 17010.0 + r * (139.0 / 5443200.0)))
        x = r * (1.0 + r * (1.0 / 6.0 + r * (1.0 / 36.0 + r * inner)))
    share = 1.0
    for _ in range(100):
        decay = math.exp(-x)
        share = 1.0 - decay
        if share < 1e-12:
            break
        step = (x - share - asked) / share
        x -= step
        if 0.5 * step * step * decay < 1e-8 * share * x:  # what Newton leaves
            break
    return x * start_up_time_s, max(share, 1e-12)


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
