"""A typical year of weather, hour by hour, and where it came from.

Row i of the frame is the interval [i, i+1) of local standard time from 1 January 00:00; no reader's
time index survives, because readers label the same hour differently.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from html import escape
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import numpy.typing as npt

from dewledger.weather.physics.moist_air import FloatArray, enthalpy
from dewledger.weather.physics.moist_air_arrays import saturation_hum_ratios, wet_bulbs

if TYPE_CHECKING:
    import pandas as pd

HOURS = 8760
A_YEAR = 2001  # any without a leap day
DAYS_IN_MONTH = tuple(monthrange(A_YEAR, month)[1] for month in range(1, 13))

Label = Literal["end", "start", "mid"]
Kind = Literal["typical", "actual", "not stated"]


@dataclass(frozen=True)
class Finding:
    """One thing found in a weather file.

    ``check`` names it, ``column`` is the column it is about (empty where it is about the file),
    ``count`` the number of hours concerned and ``hours`` which ones; ``what`` is the fact and
    ``remedy`` what was done or should be done about it.
    """

    check: str
    severity: Literal["error", "note"]
    what: str
    remedy: str
    column: str = ""
    hours: tuple[int, ...] = ()
    count: int = 0

    @property
    def sentence(self) -> str:
        """The finding as one sentence."""
        return f"{self.what}; {self.remedy}"


@dataclass(frozen=True)
class DesignDewPoint:
    """A dew point exceeded in a share of the hours, with what goes with it."""

    percent: float  # of the hours of a year
    dew_point_C: float
    hum_ratio: float  # kg/kg at that dew point
    mean_coincident_dry_bulb_C: float
    source: str  # whose figure it is, in words


@dataclass(frozen=True)
class Station:
    """Where and when a weather year was measured, and what its file says of itself.

    ``label`` is which end of the hour the file's instantaneous values (temperature, humidity,
    pressure) stand at. ``irradiance_minute`` is the minute of the hour that the irradiance stands
    for: 30 where it is the hour's mean. Latitude, longitude, altitude and offset are NaN only
    where a plain CSV came without them. ``kind`` distinguishes a typical year, put together from
    months of many years, from an actual one, whose calendar year ``year`` is; only an actual year
    can be held against a meter. ``provenance`` is what the head of a plain CSV says of its source,
    by key: source, address, retrieved, terms.
    """

    name: str
    latitude: float  # degrees, north positive
    longitude: float  # degrees, east positive
    altitude_m: float
    utc_offset_h: float  # local standard time less UTC; half hours occur
    format: str
    label: Label
    source_years: dict[int, int]  # month -> year it was measured in; empty where not stated
    sha256: str  # of the file's bytes
    irradiance_minute: float = 30.0
    design_dew_points: tuple[DesignDewPoint, ...] = field(default=())  # stated by the file
    kind: Kind = "not stated"
    year: int | None = None  # of an actual year
    provenance: tuple[tuple[str, str], ...] = ()

    @property
    def year_words(self) -> str:
        """What kind of year it is: "typical year", "actual year 2023", or that it is not said."""
        return {
            "typical": "typical year",
            "actual": f"actual year {self.year}",
            "not stated": "year of weather",
        }[self.kind]

    @property
    def title(self) -> str:
        """The name with the kind of year: "Miami, FL (typical year)", "Ithaca, NY (2020)"."""
        said = {
            "typical": "typical year",
            "actual": str(self.year),
            "not stated": "typical or actual not stated",
        }
        return f"{self.name} ({said[self.kind]})"

    def stated_design(self, percent: float) -> DesignDewPoint | None:
        """The design dew point that the file states for a share of the hours, if it does."""
        for point in self.design_dew_points:
            if point.percent == percent:
                return point
        return None

    @property
    def dehumidification_dew_point_C(self) -> float | None:
        """The 0.4 % dehumidification dew point [C] that the file states."""
        point = self.stated_design(0.4)
        return None if point is None else point.dew_point_C


@dataclass(frozen=True, eq=False)
class WeatherYear:
    """8760 hours of weather.

    arrays : columns of 8760 by their names, not to be written to. ``column`` and ``frame``, a table
        of them, have enthalpy and wet bulb besides, worked out when they are first asked for

    Columns, float64: temp_air_C, temp_dew_C, rh_frac, pressure_Pa, ghi_Wm2, dni_Wm2,
    dhi_Wm2, wind_m_s (the last four NaN throughout where the file has none), hum_ratio (kg/kg),
    enthalpy_J_kg, wet_bulb_C; int64: month, day, hour. Moisture comes from the dew point and the
    station pressure; rh_frac is the file's own and may differ from it by its rounding.
    """

    arrays: Mapping[str, npt.NDArray[Any]]
    station: Station
    findings: tuple[Finding, ...]

    def column(self, name: str) -> FloatArray:
        """One column as a float64 array of 8760."""
        columns = self._derived if name in DERIVED else self.arrays
        return np.asarray(columns[name], dtype=np.float64)

    @cached_property
    def _derived(self) -> dict[str, FloatArray]:
        temp, ratio = self.column("temp_air_C"), self.column("hum_ratio")
        found = enthalpy(temp, ratio), wet_bulbs(temp, ratio, self.column("pressure_Pa"))
        return dict(zip(DERIVED, found, strict=True))

    @cached_property
    def frame(self) -> pd.DataFrame:
        """The columns as a table of 8760 rows; made when it is first asked for."""
        import pandas as pd

        measured = {name: kept for name, kept in self.arrays.items() if name not in _CLOCK}
        return pd.DataFrame({**measured, **self._derived, **{n: self.arrays[n] for n in _CLOCK}})

    def __getstate__(self) -> dict[str, Any]:
        """What is sent to another process: the arrays alone."""
        return {name: value for name, value in self.__dict__.items() if name != "frame"}

    def __repr__(self) -> str:
        low, high = (float(pick(self.column("temp_air_C"))) for pick in (np.min, np.max))
        return (
            f"<WeatherYear {self.station.title!r}: {low:.1f} to {high:.1f} C, mean humidity ratio "
            f"{1000.0 * float(self.column('hum_ratio').mean()):.1f} g/kg, "
            f"{len(self.findings)} findings>"
        )

    def _repr_html_(self) -> str:
        """Monthly means for notebooks; names escaped."""
        months = self.frame.groupby("month")[["temp_air_C", "temp_dew_C", "hum_ratio"]].mean()
        return f"<p>{escape(repr(self))}</p>{months.to_html(float_format='{:.4g}'.format)}"


def calendar() -> dict[str, npt.NDArray[np.int64]]:
    """month, day and hour of each of the 8760 hours; hour is the start of the interval."""
    days = [
        (month, day)
        for month, length in enumerate(DAYS_IN_MONTH, start=1)
        for day in range(1, length + 1)
    ]
    month, day = np.array(days, dtype=np.int64).repeat(24, axis=0).T.copy()
    return {"month": month, "day": day, "hour": np.tile(np.arange(24, dtype=np.int64), len(days))}


def make_year(
    columns: dict[str, FloatArray], station: Station, findings: tuple[Finding, ...]
) -> WeatherYear:
    """A WeatherYear from its eight measured columns (8760 values each, moist air possible)."""
    measured = {name: np.array(columns[name], dtype=np.float64) for name in MEASURED}
    hum_ratio = saturation_hum_ratios(measured["temp_dew_C"], measured["pressure_Pa"])
    return WeatherYear({**measured, "hum_ratio": hum_ratio, **calendar()}, station, findings)


MEASURED = (
    "temp_air_C",
    "temp_dew_C",
    "rh_frac",
    "pressure_Pa",
    "ghi_Wm2",
    "dni_Wm2",
    "dhi_Wm2",
    "wind_m_s",
)
DERIVED = ("enthalpy_J_kg", "wet_bulb_C")
_CLOCK = ("month", "day", "hour")
