"""What a weather year holds for drying: dew points, design points, ventilation load, degree hours.

Statistics of the file's own hours are of this typical year, which is milder at the ends than the
long records that design data are drawn from; what the file's header states is kept apart.
"""

import itertools
from dataclasses import dataclass
from typing import Any

import numpy as np

from dewledger.weather.physics.moist_air import (
    FloatArray,
    heat_capacity,
    saturation_hum_ratio,
    vapor_enthalpy,
)
from dewledger.weather.physics.moist_air_arrays import saturation_hum_ratios
from dewledger.weather.year import HOURS, DesignDewPoint, Finding, WeatherYear

# Ventilation load index (Harriman, Plager, Kosar, ASHRAE Journal, November 1997): ton-hours a year
# that bring one cfm of outdoor air to 75 F and 50 %, counting only hours above it. Base humidity
# 65 gr/lb and the factors of standard air, 0.68 Btu/h per cfm and gr/lb and 1.08 Btu/h per cfm
# and F, are common practice, no source.
INDEX_DRY_BULB_F = 75.0
INDEX_GRAINS = 65.0
LATENT_FACTOR = 0.68
SENSIBLE_FACTOR = 1.08
BTU_PER_TON_HOUR = 12_000.0
GRAINS_PER_POUND = 7000.0

DEW_POINTS_F = (50.0, 55.0, 60.0, 65.0, 70.0, 75.0)
LOWEST_BIN_F = 30.0
BIN_F = 5.0
DESIGN_PERCENTS = (0.4, 1.0, 2.0)
DEGREE_HOUR_BASE_C = (75.0 - 32.0) / 1.8
# Thermal climate zones of ANSI/ASHRAE 169-2013 by degree days of a year, C-days (not checked
# against the text): 0 to 2 by cooling degree days above 10 C, 3 to 8 by heating ones below 18 C.
COOLING_BASE_C = 10.0
HEATING_BASE_C = 18.0
HOT_ZONES = ((6000.0, 0), (5000.0, 1), (3500.0, 2))  # above so many cooling degree days
COLD_ZONES = ((2000.0, 3), (3000.0, 4), (4000.0, 5), (5000.0, 6), (7000.0, 7))  # up to so many
COLDEST_ZONE = 8
COINCIDENCE_K = 0.5  # hours within this of the design dew point are coincident with it
J_PER_KWH = 3.6e6


@dataclass(frozen=True)
class Spread:
    """Mean, highest and lowest of the year."""

    mean: float
    maximum: float
    minimum: float


@dataclass(frozen=True)
class DewPointBin:
    """Hours with the dew point in [low, high) C; the first bin has no low end."""

    low_C: float | None
    high_C: float
    hours: int


@dataclass(frozen=True)
class HoursAbove:
    """Hours with the dew point above a value."""

    dew_point_C: float
    hours: int


@dataclass(frozen=True)
class VentilationLoad:
    """Ventilation load index, ton-hours per cfm of standard air and year."""

    latent_ton_h_cfm: float
    sensible_ton_h_cfm: float


@dataclass(frozen=True)
class ClimateSummary:
    """What a weather year holds; temperatures C, humidity ratios kg/kg."""

    dry_bulb_C: Spread
    dew_point_C: Spread
    hum_ratio: Spread
    mean_pressure_Pa: float
    dew_point_bins: tuple[DewPointBin, ...]  # in steps of 5 F
    hours_above: tuple[HoursAbove, ...]
    design_dew_points: tuple[DesignDewPoint, ...]  # 0.4, 1 and 2 % of this year's hours
    stated_dew_points: tuple[DesignDewPoint, ...]  # by the file's header, often empty
    ventilation_load: VentilationLoad
    degree_hour_base_C: float
    cooling_degree_hours_K_h: float
    hours_above_base: int
    cooling_degree_days_K_d: float  # above 10 C
    heating_degree_days_K_d: float  # below 18 C
    thermal_zone: int  # ANSI/ASHRAE 169-2013, without the moisture letter
    missing: tuple[Finding, ...]  # what was missing and how it was made up


@dataclass(frozen=True)
class OnceThrough:
    """A year of 1 kg/s of dry outdoor air cooled to saturation at a coil temperature, reheated."""

    hours: int  # the coil dries
    latent_kWh: float
    sensible_kWh: float
    condensate_kg: float
    reheat_kWh: float

    @property
    def total_kWh(self) -> float:
        """Cooling, latent and sensible."""
        return self.latent_kWh + self.sensible_kWh


def to_fahrenheit(temp_C: Any) -> Any:
    """C to F, for arrays too."""
    return temp_C * 1.8 + 32.0


def to_celsius(temp_F: float) -> float:
    """F to C."""
    return (temp_F - 32.0) / 1.8


_MISSING_CHECKS = (
    "gap",
    "impossible values",
    "pressure missing",
    "dew point derived",
    "no irradiance",
    "no wind",
)


def summarize(year: WeatherYear) -> ClimateSummary:
    """The climate of a weather year."""
    dry_bulb, dew_point = year.column("temp_air_C"), year.column("temp_dew_C")
    hum_ratio, pressure = year.column("hum_ratio"), year.column("pressure_Pa")
    above = np.maximum(dry_bulb - DEGREE_HOUR_BASE_C, 0.0)
    cooling, heating = degree_days(dry_bulb)
    return ClimateSummary(
        dry_bulb_C=_spread(dry_bulb),
        dew_point_C=_spread(dew_point),
        hum_ratio=_spread(hum_ratio),
        mean_pressure_Pa=float(pressure.mean()),
        dew_point_bins=_bins(dew_point),
        hours_above=tuple(
            HoursAbove(to_celsius(limit), int((to_fahrenheit(dew_point) > limit + 1e-9).sum()))
            for limit in DEW_POINTS_F
        ),
        design_dew_points=tuple(_design(year, percent) for percent in DESIGN_PERCENTS),
        stated_dew_points=year.station.design_dew_points,
        ventilation_load=ventilation_load(dry_bulb, hum_ratio),
        degree_hour_base_C=DEGREE_HOUR_BASE_C,
        cooling_degree_hours_K_h=float(above.sum()),
        hours_above_base=int((above > 1e-9).sum()),
        cooling_degree_days_K_d=cooling,
        heating_degree_days_K_d=heating,
        thermal_zone=thermal_zone(cooling, heating),
        missing=tuple(f for f in year.findings if f.check in _MISSING_CHECKS),
    )


def _spread(values: FloatArray) -> Spread:
    return Spread(float(values.mean()), float(values.max()), float(values.min()))


def _bins(dew_point_C: FloatArray) -> tuple[DewPointBin, ...]:
    # a file's 12.8 C is 55.04 F; 10.0 C must be 50 F and not a hair below
    dew_point_F = np.round(to_fahrenheit(dew_point_C), 9)
    steps = max(1, int(np.floor((float(dew_point_F.max()) - LOWEST_BIN_F) / BIN_F)) + 1)
    edges = LOWEST_BIN_F + BIN_F * np.arange(steps + 1)
    bins = [DewPointBin(None, to_celsius(LOWEST_BIN_F), int((dew_point_F < edges[0]).sum()))]
    for low, high in itertools.pairwise(edges):
        hours = int(((dew_point_F >= low) & (dew_point_F < high)).sum())
        bins.append(DewPointBin(to_celsius(float(low)), to_celsius(float(high)), hours))
    return tuple(bins)


def _design(year: WeatherYear, percent: float) -> DesignDewPoint:
    """The n-th highest hourly dew point, n being the percent of 8760 h (0.4 %: the 35th)."""
    dew_point = year.column("temp_dew_C")
    rank = round(HOURS * percent / 100.0)
    value = float(np.sort(dew_point)[-rank])
    near = np.abs(dew_point - value) <= COINCIDENCE_K
    return DesignDewPoint(
        percent,
        value,
        float(saturation_hum_ratio(value, float(year.column("pressure_Pa").mean()))),
        float(year.column("temp_air_C")[near].mean()),
        f"of this {year.station.year_words}",
    )


def ventilation_load(dry_bulb_C: FloatArray, hum_ratio: FloatArray) -> VentilationLoad:
    """Ventilation load index of hourly dry bulb [C] and humidity ratio [kg/kg]."""
    grains = np.maximum(hum_ratio * GRAINS_PER_POUND - INDEX_GRAINS, 0.0)
    warmer = np.maximum(to_fahrenheit(dry_bulb_C) - INDEX_DRY_BULB_F, 0.0)
    return VentilationLoad(
        float(LATENT_FACTOR * grains.sum() / BTU_PER_TON_HOUR),
        float(SENSIBLE_FACTOR * warmer.sum() / BTU_PER_TON_HOUR),
    )


def degree_days(dry_bulb_C: FloatArray) -> tuple[float, float]:
    """Cooling degree days above 10 C and heating degree days below 18 C [C-days], of daily means.

    ``dry_bulb_C`` : 8760 hours of a year that starts at midnight
    """
    days = dry_bulb_C.reshape(-1, 24).mean(axis=1)
    return (
        float(np.maximum(days - COOLING_BASE_C, 0.0).sum()),
        float(np.maximum(HEATING_BASE_C - days, 0.0).sum()),
    )


def thermal_zone(cooling_degree_days: float, heating_degree_days: float) -> int:
    """Thermal climate zone 0 to 8 (ANSI/ASHRAE 169-2013) by the degree days of ``degree_days``.

    The moisture letter needs precipitation, which weather files lack.
    """
    for above, zone in HOT_ZONES:
        if cooling_degree_days > above:
            return zone
    for most, zone in COLD_ZONES:
        if heating_degree_days <= most:
            return zone
    return COLDEST_ZONE


def once_through(year: WeatherYear, coil_C: float, reheat_C: float) -> OnceThrough:
    """A year of 1 kg/s of dry outdoor air through a coil that leaves it saturated at ``coil_C``.

    The coil runs whenever outdoor air is moister than saturation at ``coil_C``; its air is then
    reheated to ``reheat_C``. Latent heat is the enthalpy of the vapor taken out at the outdoor
    dry bulb; condensate carries no heat away.
    """
    dry_bulb, hum_ratio = year.column("temp_air_C"), year.column("hum_ratio")
    leaving = saturation_hum_ratios(coil_C, year.column("pressure_Pa"))
    runs = hum_ratio > leaving
    taken = np.where(runs, hum_ratio - leaving, 0.0)
    per_kelvin = np.where(runs, heat_capacity(leaving), 0.0)
    latent = taken * vapor_enthalpy(dry_bulb)
    seconds = 3600.0
    return OnceThrough(
        hours=int(runs.sum()),
        latent_kWh=float(latent.sum()) * seconds / J_PER_KWH,
        sensible_kWh=float((per_kelvin * (dry_bulb - coil_C)).sum()) * seconds / J_PER_KWH,
        condensate_kg=float(taken.sum()) * seconds,
        reheat_kWh=float(per_kelvin.sum()) * (reheat_C - coil_C) * seconds / J_PER_KWH,
    )
