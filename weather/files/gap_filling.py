"""The eight measured columns made whole: unit of pressure, dew point, gaps, bounds.

Whatever is done to a column is a finding.
"""

import numpy as np

from dewledger.weather.errors import InputError
from dewledger.weather.files.findings import (
    BAD_READINGS_H,
    SPOKEN,
    UNITS,
    clip_dew_point,
    constant_pressure,
    dew_point_on_other_scale,
    dim_sun,
    error,
    fill_gaps,
    hour_words,
    humidity_disagrees,
    note,
    other_scale,
    pressure_unlike_altitude,
    runs,
    runs_words,
    unchanging_dew_point,
    zone_unlike_longitude,
)
from dewledger.weather.files.series_check import series_findings
from dewledger.weather.files.sun_check import sun_findings
from dewledger.weather.physics.moist_air import FloatArray, standard_pressure
from dewledger.weather.physics.moist_air_arrays import (
    dew_points,
    hum_ratios_from_rel_hum,
    saturation_pressures,
)
from dewledger.weather.year import HOURS, MEASURED, Finding, Station

# Values outside are no weather: hotter than any record (a few typical years hold 65 C), pressures
# of no inhabited altitude. RH above 1 by rounding is allowed and brought to 1.
_POSSIBLE = {
    "temp_air_C": (-90.0, 70.0),
    "temp_dew_C": (-100.0, 45.0),
    "rh_frac": (0.0, 1.1),
    "pressure_Pa": (45_000.0, 112_000.0),
    "ghi_Wm2": (-20.0, 2000.0),
    "dni_Wm2": (-20.0, 2000.0),
    "dhi_Wm2": (-20.0, 2000.0),
    "wind_m_s": (0.0, 120.0),
}
FRACTION_H = 24
_IRRADIANCE = ("ghi_Wm2", "dni_Wm2", "dhi_Wm2")


def make_whole(
    values: dict[str, FloatArray], station: Station, pressure_unit: str, findings: list[Finding]
) -> dict[str, FloatArray]:
    """The eight measured columns without gaps; what was done to them goes to ``findings``.

    Parameters
    ----------
    values : what the file has of the columns, and hum_ratio; 8760 each, NaN where missing, in our
        units but for the pressure
    pressure_unit : Pa or mbar, as the format has it
    findings : appended to; where one is an error the columns returned are not to be used
    """
    nothing = np.full(HOURS, np.nan)
    given = {name: values.get(name, nothing) for name in (*MEASURED, "hum_ratio")}
    lacking = [
        words
        for words, names in (
            ("dry-bulb temperature", ("temp_air_C",)),
            ("humidity", ("temp_dew_C", "rh_frac", "hum_ratio")),
        )
        if all(np.isnan(given[name]).all() for name in names)
    ]
    if lacking:
        raise InputError(
            f"the file has no {' and no '.join(lacking)}; use one that holds dry bulb and dew "
            "point or relative humidity"
        )
    given["pressure_Pa"] = _pressure_by_range(given["pressure_Pa"], pressure_unit, findings)
    given["rh_frac"] = _humidity_by_range(given["rh_frac"], findings)
    given["rh_frac"] = _humidity_in_blocks(given["rh_frac"], findings)
    for stop in (
        other_scale("temp_air_C", given["temp_air_C"]),
        other_scale("temp_dew_C", given["temp_dew_C"]),
        dew_point_on_other_scale(given["temp_air_C"], given["temp_dew_C"]),
    ):
        if stop is not None:
            findings.append(stop)
            return given
    for name in MEASURED:
        given[name] = _possible(given[name], name, findings)
    temp_air, stop = fill_gaps(given["temp_air_C"], "temp_air_C")
    _add(findings, stop)
    pressure = _pressure(given["pressure_Pa"], station, findings)
    if any(finding.severity == "error" for finding in findings):
        return given
    temp_dew, rh = _humidity(given, temp_air, pressure, findings)
    if np.isnan(temp_dew).any():
        return given
    disagrees = humidity_disagrees(temp_air, temp_dew, rh)
    # a plain CSV may hold one chosen pressure, and a missing one is made up: both are meant
    measured = station.format != "plain CSV" and not np.isnan(given["pressure_Pa"]).all()
    stuck = unchanging_dew_point(temp_dew)
    as_stated = temp_dew
    temp_dew, clipped = clip_dew_point(temp_air, temp_dew, rh)
    whole = {
        "temp_air_C": temp_air,
        "temp_dew_C": temp_dew,
        "pressure_Pa": pressure,
    }
    rh_of_dew = saturation_pressures(temp_dew) / saturation_pressures(temp_air)
    whole["rh_frac"] = np.minimum(np.where(np.isnan(rh), rh_of_dew, rh), 1.0)
    for finding in (
        clipped,
        disagrees,
        stuck,
        constant_pressure(pressure) if measured else None,
        pressure_unlike_altitude(pressure, station.altitude_m),
        zone_unlike_longitude(station.utc_offset_h, station.longitude),
    ):
        _add(findings, finding)
    for name in _IRRADIANCE:
        whole[name] = np.maximum(_optional(given[name], name, findings), 0.0)
    _say_missing_sun(whole, findings)
    _add(findings, dim_sun(whole["ghi_Wm2"]))
    whole["wind_m_s"] = _optional(given["wind_m_s"], "wind_m_s", findings)
    if not any(finding.severity == "error" for finding in findings):
        _look_over(whole, {**whole, "temp_dew_C": as_stated, "rh_frac": rh}, station, findings)
    return whole


def _look_over(
    whole: dict[str, FloatArray],
    as_stated: dict[str, FloatArray],
    station: Station,
    findings: list[Finding],
) -> None:
    """What the hours say against each other, and the sun against its place, unless already said."""
    findings += series_findings(as_stated, station)
    said = {(finding.check, finding.column) for finding in findings}
    sun = sun_findings(whole, station)
    findings += [finding for finding in sun if (finding.check, finding.column) not in said]
    _add(findings, _cannot_serve({finding.check: finding for finding in findings}))


# What two columns say alike is an error; one alone may be an odd column in a year that can serve.
_TWO_WITNESSES = (
    (
        ("hemisphere", "seasons"),
        "correct the sign of the latitude, or use another file",
    ),
    (
        ("sun of another hour", "warmest by night"),
        "put the rows on local standard time, or use another file",
    ),
)


def _cannot_serve(found: dict[str, Finding]) -> Finding | None:
    """The error where the sun and the temperatures both contradict the place or the clock."""
    for (by_sun, by_warmth), remedy in _TWO_WITNESSES:
        if by_sun in found and by_warmth in found:
            what = f"{found[by_sun].what}, and {found[by_warmth].what}"
            return error(by_sun, what, remedy, "ghi_Wm2")
    return None


def _add(findings: list[Finding], finding: Finding | None) -> None:
    if finding is not None:
        findings.append(finding)


def _possible(values: FloatArray, name: str, findings: list[Finding]) -> FloatArray:
    """Values that are no weather taken as missing, and said."""
    low, high = _POSSIBLE[name]
    wrong = (values < low) | (values > high)
    if not wrong.any():
        return values
    hours = np.flatnonzero(wrong)
    if name in _IRRADIANCE and int((values > high).sum()) > BAD_READINGS_H:
        findings.append(
            note(
                "irradiance unit",
                f"{SPOKEN[name]} reads up to {np.nanmax(values):.4g} W/m2 and is above {high:g} in "
                f"{hours.size} h, more than the sun gives",
                "write it in W/m2; solar gain cannot be computed from it",
                name,
                hours,
            )
        )
        return values
    scale, unit = (100.0, "%") if name == "rh_frac" else (1.0, UNITS[name])
    bounds = f"{scale * low:g} to {scale * high:g} {unit}"
    findings.append(
        note(
            "impossible values",
            f"{SPOKEN[name]} reads {scale * values[hours[0]]:.4g} {unit} on "
            f"{hour_words(int(hours[0]))} and is outside {bounds} in {hours.size} h",
            "taken as missing",
            name,
            hours,
        )
    )
    return np.where(wrong, np.nan, values)


def _humidity_by_range(rh_frac: FloatArray, findings: list[Finding]) -> FloatArray:
    """Relative humidity as a fraction: no place stays under 1 % all year, nor at 0."""
    valid = rh_frac[np.isfinite(rh_frac)]
    if not valid.size or float(valid.max()) > 0.01:
        return rh_frac
    if float(valid.max()) <= 0.0:
        findings.append(
            note(
                "impossible values",
                f"relative humidity is never above {100 * float(valid.max()):g} %",
                "taken as missing",
                "rh_frac",
                np.flatnonzero(np.isfinite(rh_frac)),
            )
        )
        return np.full(HOURS, np.nan)
    findings.append(
        note(
            "relative humidity unit",
            "relative humidity is a fraction where percent is due",
            "read as what its range shows it to be",
            "rh_frac",
        )
    )
    return rh_frac * 100.0


def _humidity_in_blocks(rh_frac: FloatArray, findings: list[Finding]) -> FloatArray:
    """Days of relative humidity in the other unit put right: no place is below 1 % for a day."""
    small = (rh_frac > 0.0) & (rh_frac <= 0.0101)
    spans = [span for span in runs(small) if span[1] >= FRACTION_H] if small.any() else []
    if not spans:
        return rh_frac
    hours = np.concatenate([np.arange(first, first + length) for first, length in spans]) % HOURS
    findings.append(
        note(
            "relative humidity unit",
            f"relative humidity is a fraction where percent is due: {runs_words(spans)}",
            "read as what its range shows it to be",
            "rh_frac",
            hours.astype(np.int64),
        )
    )
    whole = rh_frac.copy()
    whole[hours] *= 100.0
    return whole


def _pressure_by_range(pressure: FloatArray, due: str, findings: list[Finding]) -> FloatArray:
    """Pressure in Pa: its range shows its unit; said where that is not the one that is due."""
    valid = pressure[np.isfinite(pressure)]
    if not valid.size:
        return pressure
    middle = float(np.median(valid))
    low, high = _POSSIBLE["pressure_Pa"]
    for unit, factor in (("Pa", 1.0), ("mbar", 100.0), ("kPa", 1000.0)):
        if low <= middle * factor <= high:
            if unit != due:
                findings.append(
                    note(
                        "pressure unit",
                        f"pressure is in {unit} where {due} is due",
                        "read as what its range shows it to be",
                        "pressure_Pa",
                    )
                )
            return pressure * factor
    findings.append(
        error(
            "pressure unit",
            f"pressure is {middle:.4g} in the median, in no unit the pressure of any place",
            "write station pressure in Pa, for example 101325",
            "pressure_Pa",
        )
    )
    return pressure


def _pressure(pressure: FloatArray, station: Station, findings: list[Finding]) -> FloatArray:
    """Station pressure of every hour; the standard atmosphere's where the file has none."""
    if not np.isnan(pressure).all():
        filled, finding = fill_gaps(pressure, "pressure_Pa")
        _add(findings, finding)
        return filled
    if not np.isfinite(station.altitude_m):
        findings.append(
            error(
                "pressure missing",
                "the file has no pressure and no altitude is known",
                "state the site's altitude, or give pressure_Pa",
                "pressure_Pa",
            )
        )
        return pressure
    standard = float(standard_pressure(station.altitude_m))
    findings.append(
        Finding(
            "pressure missing",
            "note",
            f"the file has no pressure; {standard / 100:.0f} mbar of the standard atmosphere at "
            f"{station.altitude_m:.0f} m is used in every hour",
            "moisture may be off by a few percent",
            "pressure_Pa",
            tuple(range(HOURS)),
            HOURS,
        )
    )
    return np.full(HOURS, standard)


def _dew_point_of(
    temp_air_C: FloatArray, rh_frac: FloatArray, hum_ratio: FloatArray, pressure_Pa: FloatArray
) -> FloatArray:
    """Dew point from humidity ratio where there is one, else from relative humidity, else NaN."""
    from_rel_hum = hum_ratios_from_rel_hum(temp_air_C, np.maximum(rh_frac, 0.001), pressure_Pa)
    ratio = np.where(np.isnan(hum_ratio), from_rel_hum, hum_ratio)
    known = ~np.isnan(ratio)
    found = np.full(ratio.shape, np.nan)
    if known.any():
        found[known] = dew_points(np.maximum(ratio[known], 1e-7), pressure_Pa[known])
    return found


def _humidity(
    given: dict[str, FloatArray], temp_air: FloatArray, pressure: FloatArray,
    findings: list[Finding],
) -> tuple[FloatArray, FloatArray]:  # fmt: skip
    """Dew point of every hour (NaN left where an error was found) and the file's RH (NaN allowed).

    Relative humidity stands in for hours without dew point.
    """
    temp_dew, rh = given["temp_dew_C"], given["rh_frac"]
    lacking = np.isnan(temp_dew)
    other = np.full(HOURS, np.nan)
    if lacking.any():
        hours = (temp_air, np.minimum(rh, 1.0), given["hum_ratio"], pressure)
        other[lacking] = _dew_point_of(*(values[lacking] for values in hours))
    stand_in = ~np.isnan(other)
    if stand_in.any():
        temp_dew = np.where(stand_in, other, temp_dew)
        source = "relative humidity" if np.isnan(given["hum_ratio"]).all() else "humidity ratio"
        every = bool(lacking.all())
        findings.append(
            note(
                "dew point derived",
                f"the file has no dew point{'' if every else f' in {int(stand_in.sum())} h'}",
                f"taken from {source}, dry bulb and pressure",
                "temp_dew_C",
                np.flatnonzero(stand_in),
            )
        )
    filled, finding = fill_gaps(temp_dew, "temp_dew_C")
    _add(findings, finding)
    return filled, rh


def _optional(values: FloatArray, name: str, findings: list[Finding]) -> FloatArray:
    """A column that may be missing as a whole."""
    if np.isnan(values).all():
        if name == "wind_m_s":
            findings.append(
                note("no wind", "the file has no wind speed", "nothing depends on it", name)
            )
        return values
    filled, finding = fill_gaps(values, name)
    _add(findings, finding)
    return filled


def _say_missing_sun(whole: dict[str, FloatArray], findings: list[Finding]) -> None:
    missing = [name for name in _IRRADIANCE if np.isnan(whole[name]).all()]
    if missing:
        findings.append(
            note(
                "no irradiance",
                f"the file has no {', '.join(SPOKEN[name] for name in missing)}",
                "solar gain cannot be computed from it",
                missing[0],
            )
        )
