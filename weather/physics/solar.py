"""Sunshine on a tilted surface, by pvlib, with the sun where it stood for the hour's irradiance.

Each format's irradiance stands for a minute of the hour that the station carries: the middle for
files of hourly means, the instant for files of samples. The sun of that minute is used, so an hour
of sunrise counts once and all label conventions give the same sunshine.

Source: pvlib, the sun's position by Reda and Andreas and the diffuse of Hay and Davies; [W/m2] and
degrees.
"""

from functools import lru_cache

import numpy as np

from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import HOURS, Station, WeatherYear

# A typical year mixes years; the sun's place on a date differs between them by less than 0.3
# degrees, so one year without a leap day serves.
_SUN_YEAR = "2001-01-01"
# Findings on a year whose sunshine is in another unit, of another hour or another hemisphere.
CONTRADICTS_SOLAR_GAIN = ("irradiance unit", "sun of another hour", "hemisphere")


@lru_cache(maxsize=4)
def _sun(
    latitude: float, longitude: float, altitude_m: float, utc_offset_h: float, minute: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Apparent zenith [deg], azimuth [deg from north], extraterrestrial normal [W/m2], hourly."""
    import pandas as pd
    from pvlib.irradiance import get_extra_radiation
    from pvlib.solarposition import get_solarposition

    local = pd.date_range(_SUN_YEAR, periods=HOURS, freq="h", tz="UTC")
    times = local + pd.Timedelta(minutes=minute - 60.0 * utc_offset_h)
    altitude = altitude_m if np.isfinite(altitude_m) else 0.0
    position = get_solarposition(times, latitude, longitude, altitude=altitude)
    return (
        position["apparent_zenith"].to_numpy(dtype=np.float64),
        position["azimuth"].to_numpy(dtype=np.float64),
        np.asarray(get_extra_radiation(times.day_of_year.to_numpy()), dtype=np.float64),
    )


def sun_of_place(station: Station) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Where the sun stands in each hour of a station's year, at the minute of its irradiance.

    Returns
    -------
    apparent zenith [deg], azimuth [deg from north, clockwise], irradiance on a surface that faces
    the sun above the air [W/m2]; 8760 each. NREL algorithm (Reda and Andreas, Solar Energy 76(5),
    2004) and Spencer's series (Search 2(5), 1971), as pvlib computes them
    """
    return _sun(
        station.latitude,
        station.longitude,
        station.altitude_m,
        station.utc_offset_h,
        station.irradiance_minute,
    )


def tilted_irradiance(
    year: WeatherYear, tilt_deg: float, azimuth_deg: float, albedo: float = 0.2
) -> FloatArray:
    """Irradiance on a tilted surface [W/m2], 8760 hourly means, none below zero.

    Direct, diffuse and reflected from the ground. The diffuse is isotropic and circumsolar (Hay and
    Davies, Proc. First Canadian Solar Radiation Data Workshop, 1980), the sun's place that of the
    NREL algorithm (Reda and Andreas, Solar Energy 76(5), 2004), both as pvlib computes them.

    Parameters
    ----------
    tilt_deg : 0 for a roof facing up, 90 for a wall
    azimuth_deg : 0 facing north, 90 east, 180 south, 270 west
    albedo : share of global irradiance that the ground reflects, 0 to 1

    Raises
    ------
    InputError : no irradiance, or no place or time zone, in the weather year; or irradiance that
        contradicts the place or its unit
    """
    from pvlib.irradiance import get_total_irradiance

    station = year.station
    ghi, dni, dhi = (year.column(name) for name in ("ghi_Wm2", "dni_Wm2", "dhi_Wm2"))
    if np.isnan(ghi).any() or np.isnan(dni).any() or np.isnan(dhi).any():
        raise InputError(
            f"{station.name}: the weather file has no complete irradiance for solar gain; use a "
            "file with ghi_Wm2, dni_Wm2 and dhi_Wm2, or give the case no windows"
        )
    for finding in year.findings:
        if finding.check in CONTRADICTS_SOLAR_GAIN:
            raise InputError(f"{station.name}: {finding.sentence}")
    place = (station.latitude, station.longitude, station.utc_offset_h)
    if not np.isfinite(place).all():
        raise InputError(
            f"{station.name}: solar gain needs the place; state the site's latitude, longitude "
            "and utc_offset"
        )
    zenith, azimuth, extra = sun_of_place(station)
    total = get_total_irradiance(
        tilt_deg,
        azimuth_deg,
        zenith,
        azimuth,
        dni,
        ghi,
        dhi,
        dni_extra=extra,
        albedo=albedo,
        model="haydavies",
    )["poa_global"]
    return np.maximum(np.asarray(total, dtype=np.float64), 0.0)
