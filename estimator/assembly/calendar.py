"""The calendar of a weather year: weekdays, holidays, summer time, occupied hours, profiles.

The weather stays in local standard time and has no 29 February; people follow the clock on the
wall. In summer time the hour that begins at 13:00 standard time is 14:00 to them.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cache, lru_cache
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from dewledger.case.room import Profile, Schedule, closure_span, month_day, occupied_hours
from dewledger.data.public_holidays import public_holidays
from dewledger.weather.errors import InputError

HOURS = 8760
WEEKDAY, SATURDAY, SUNDAY, CLOSED = 0, 1, 2, 3

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]
FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Calendar:
    """The clock's view of each hour of the weather year; arrays of 8760.

    weekday : 0 Monday to 6 Sunday, by the clock's date
    day_kind : WEEKDAY, SATURDAY, SUNDAY (holidays too) or CLOSED
    clock_hour : 0 to 23, the hour the clock shows as the hour begins
    occupied : whether the schedule has people in
    conditioned : occupied hours, and those of morning recovery before them
    holidays : (month, day) and name of the days that count as Sundays
    """

    weekday: IntArray
    day_kind: IntArray
    clock_hour: IntArray
    occupied: BoolArray
    conditioned: BoolArray
    holidays: tuple[tuple[date, str], ...]

    def profile_values(self, profile: Profile | Literal["occupied", "always"]) -> FloatArray:
        """Value of a profile in each hour."""
        if profile == "always":
            return np.ones(HOURS)
        if profile == "occupied":
            return self.occupied.astype(np.float64)
        days = np.array(profile.days(), dtype=np.float64)
        values: FloatArray = days[self.day_kind, self.clock_hour]
        return values


@lru_cache(maxsize=16)
def year_calendar(schedule: Schedule, calendar_year: int) -> Calendar:
    """The calendar of a schedule in a year.

    Raises
    ------
    InputError : summer time that is not a whole number of hours
    """
    start = datetime(calendar_year, 1, 1)
    days = [start + timedelta(days=i) for i in range(366)]
    days = [d for d in days if d.year == calendar_year and (d.month, d.day) != (2, 29)]
    standard = [day + timedelta(hours=hour) for day in days for hour in range(24)]
    shifts = _shifts(schedule, standard)
    clock = [time + timedelta(hours=ahead) for time, ahead in zip(standard, shifts, strict=True)]

    named = _holidays(schedule, calendar_year)
    off = set(named)
    own = {month_day(day) for day in schedule.holidays}
    spans = [closure_span(span) for span in schedule.closures]

    @cache
    def kind(day: date) -> int:
        today = (day.month, day.day)
        for first, last in spans:
            inside = first <= today <= last if first <= last else today >= first or today <= last
            if inside:
                return CLOSED
        if day in off or today in own or day.weekday() == 6:
            return SUNDAY
        return SATURDAY if day.weekday() == 5 else WEEKDAY

    day_kind = np.array([kind(time.date()) for time in clock], dtype=np.int64)
    clock_hour = np.array([time.hour for time in clock], dtype=np.int64)
    open_hours = np.zeros((4, 24), dtype=bool)
    for row, text in enumerate((schedule.weekday, schedule.saturday, schedule.sunday)):
        open_hours[row, occupied_hours(text)] = True
    found = named | {date(calendar_year, *day): "named in the case" for day in sorted(own)}
    occupied = open_hours[day_kind, clock_hour]
    conditioned = occupied.copy()
    for ahead in range(1, round(float(schedule.morning_recovery) / 3600.0) + 1):
        conditioned |= np.roll(occupied, -ahead)
    calendar = Calendar(
        weekday=np.array([time.weekday() for time in clock], dtype=np.int64),
        day_kind=day_kind,
        clock_hour=clock_hour,
        occupied=occupied,
        conditioned=conditioned,
        holidays=tuple((day, found[day]) for day in sorted(found) if day.year == calendar_year),
    )
    for array in (
        calendar.weekday,
        calendar.day_kind,
        calendar.clock_hour,
        occupied,
        conditioned,
    ):
        array.setflags(write=False)
    return calendar


def _holidays(schedule: Schedule, calendar_year: int) -> dict[date, str]:
    """Public holidays; the next 1 January too, which summer time can reach in the south."""
    if schedule.holiday_country is None:
        return {}
    return public_holidays(schedule.holiday_country, schedule.holiday_region, calendar_year)


def _shifts(schedule: Schedule, standard: list[datetime]) -> list[int]:
    """Hours that the clock is ahead of standard time."""
    if schedule.daylight_saving == "none":
        return [0] * len(standard)
    zone = ZoneInfo(schedule.daylight_saving)
    offsets = [time.replace(tzinfo=UTC).astimezone(zone).utcoffset() for time in standard[::24]]
    # Standard time is the lesser offset of the year: some zones call summer time their standard.
    base = min(offset for offset in offsets if offset is not None)

    def ahead(time: datetime) -> int:
        offset = (time - base).replace(tzinfo=UTC).astimezone(zone).utcoffset()
        assert offset is not None
        seconds = (offset - base).total_seconds()
        if seconds % 3600:
            raise InputError(
                f'[schedule] daylight_saving: "{schedule.daylight_saving}" moves its clocks by '
                f'{seconds / 60:.0f} minutes, and the account is hourly; write "none"'
            )
        return int(seconds // 3600)

    shifts: list[int] = []
    for first in range(0, len(standard), 24):
        day = standard[first : first + 24]
        start, end = ahead(day[0]), ahead(day[-1])
        # Only a day on which the clocks move needs its hours looked at one by one.
        shifts += [start] * len(day) if start == end else [ahead(time) for time in day]
    return shifts
