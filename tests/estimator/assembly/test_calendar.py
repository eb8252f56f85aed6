"""The calendar: weekdays, holidays, closures and summer time of a weather year."""

from datetime import datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dewledger.assembly.calendar import CLOSED, SATURDAY, SUNDAY, WEEKDAY, year_calendar
from dewledger.case import Profile, Schedule, bundled_case
from dewledger.weather.errors import InputError


def hour_of(month, day, hour=0):
    """Index of an hour of a year without 29 February."""
    return int((datetime(2023, month, day, hour) - datetime(2023, 1, 1)).total_seconds() // 3600)


@pytest.mark.published
def test_weekdays_of_2023_and_of_a_leap_year():
    # Civil calendar: 1 January 2023 was a Sunday, 4 July 2023 a Tuesday, 1 March 2024 a Friday
    # (29 February, a Thursday, is no day of the weather year).
    calendar = year_calendar(Schedule(), 2023)
    assert calendar.weekday[0] == 6
    assert calendar.weekday[hour_of(7, 4)] == 1
    leap = year_calendar(Schedule(), 2024)
    assert leap.weekday[hour_of(2, 28)] == 2
    assert leap.weekday[hour_of(3, 1)] == 4
    assert leap.weekday[hour_of(12, 31)] == 1


def test_every_day_has_its_kind():
    calendar = year_calendar(Schedule(), 2023)
    kinds = calendar.day_kind[::24]
    assert [int((kinds == kind).sum()) for kind in (WEEKDAY, SATURDAY, SUNDAY)] == [260, 52, 53]
    assert np.array_equal(calendar.clock_hour, np.arange(8760) % 24)


def test_occupied_hours_by_the_day():
    schedule = Schedule(weekday="07:00-12:00, 13:00-17:00", saturday="always", sunday="none")
    calendar = year_calendar(schedule, 2023)
    monday, saturday, sunday = hour_of(1, 2), hour_of(1, 7), hour_of(1, 8)
    hours = [h for h in range(24) if calendar.occupied[monday + h]]
    assert hours == [7, 8, 9, 10, 11, 13, 14, 15, 16]
    assert calendar.occupied[saturday : saturday + 24].all()
    assert not calendar.occupied[sunday : sunday + 24].any()
    assert calendar.occupied.sum() == 260 * 9 + 52 * 24


# Public holidays of the United States (5 U.S.C. 6103) in 2023.
@pytest.mark.published
@pytest.mark.parametrize("day", [(1, 16), (5, 29), (6, 19), (7, 4), (9, 4), (11, 23), (12, 25)])
def test_federal_holidays_count_as_sundays(day):
    calendar = year_calendar(Schedule(holiday_country="US"), 2023)
    at = hour_of(*day)
    assert calendar.day_kind[at] == SUNDAY
    assert calendar.weekday[at] != 6
    assert day in {(date.month, date.day) for date, _ in calendar.holidays}


def test_a_region_adds_its_holidays():
    # Good Friday, 7 April 2023, is a holiday of North Carolina and not of the country.
    good_friday = hour_of(4, 7)
    country = year_calendar(Schedule(holiday_country="US"), 2023)
    region = year_calendar(Schedule(holiday_country="US", holiday_region="NC"), 2023)
    assert country.day_kind[good_friday] == WEEKDAY
    assert region.day_kind[good_friday] == SUNDAY


def test_days_named_in_the_case():
    calendar = year_calendar(Schedule(holidays=("03-14",)), 2023)
    assert calendar.day_kind[hour_of(3, 14)] == SUNDAY
    assert calendar.holidays[0][1] == "named in the case"


def test_closures_pass_the_end_of_the_year():
    schedule = Schedule(weekday="always", sunday="always", closures=("12-23 to 01-02",))
    calendar = year_calendar(schedule, 2023)
    closed = calendar.day_kind == CLOSED
    assert closed.sum() == 24 * 11
    assert closed[: 2 * 24].all()
    assert not closed[2 * 24]
    assert not calendar.occupied[closed].any()
    profile = Profile(weekday=(0.25,) * 12 + (1.0,) * 12)
    assert (calendar.profile_values(profile)[closed] == 0.25).all()


# Summer time of the United States (Energy Policy Act of 2005): second Sunday in March, 2:00
# standard, to first Sunday in November, 2:00 daylight time; in 2023 12 March and 5 November.
@pytest.mark.published
def test_summer_time_of_the_united_states():
    calendar = year_calendar(Schedule(daylight_saving="America/New_York"), 2023)
    ahead = (calendar.clock_hour - np.arange(8760)) % 24
    begin, end = hour_of(3, 12, 2), hour_of(11, 5, 1)
    assert (ahead[:begin] == 0).all()
    assert (ahead[begin:end] == 1).all()
    assert (ahead[end:] == 0).all()
    # The last standard hour of a summer Sunday is Monday's first to the people.
    assert calendar.weekday[hour_of(7, 2, 23)] == 0
    assert calendar.weekday[hour_of(7, 2, 22)] == 6


# Summer time in the European Union (Directive 2000/84/EC): 1:00 UTC on the last Sundays of March
# and October; in 2023 26 March and 29 October.
@pytest.mark.published
@pytest.mark.parametrize(
    ("zone", "standard_begin", "standard_end"),
    [("Europe/Berlin", (3, 26, 2), (10, 29, 2)), ("Europe/Dublin", (3, 26, 1), (10, 29, 1))],
)
def test_summer_time_of_europe(zone, standard_begin, standard_end):
    calendar = year_calendar(Schedule(daylight_saving=zone), 2023)
    ahead = (calendar.clock_hour - np.arange(8760)) % 24
    begin, end = hour_of(*standard_begin), hour_of(*standard_end)
    assert (ahead == ((np.arange(8760) >= begin) & (np.arange(8760) < end))).all()


def test_summer_time_of_the_south_runs_over_the_new_year():
    schedule = Schedule(weekday="00:00-01:00", daylight_saving="Australia/Sydney")
    calendar = year_calendar(schedule, 2023)
    assert calendar.clock_hour[0] == 1
    # 31 December 23:00 standard is 1 January 2024, a Monday, 00:00.
    assert calendar.clock_hour[-1] == 0
    assert calendar.weekday[-1] == 0
    assert calendar.occupied[-1]


def test_summer_time_of_half_an_hour_is_told():
    with pytest.raises(InputError, match="by 30 minutes"):
        year_calendar(Schedule(daylight_saving="Australia/Lord_Howe"), 2023)


def test_builtin_profiles():
    calendar = year_calendar(Schedule(), 2023)
    assert (calendar.profile_values("always") == 1.0).all()
    assert (calendar.profile_values("occupied") == calendar.occupied).all()


def test_arrays_cannot_be_changed():
    calendar = year_calendar(Schedule(), 2023)
    with pytest.raises(ValueError, match="read-only"):
        calendar.occupied[0] = True


@settings(max_examples=20, deadline=None)
@given(
    st.integers(1970, 2100),
    st.sampled_from(["none", "America/New_York", "Australia/Sydney", "Asia/Kolkata"]),
)
def test_any_year_has_8760_hours_in_step(year, zone):
    calendar = year_calendar(Schedule(daylight_saving=zone), year)
    assert calendar.weekday.shape == (8760,)
    steps = np.diff(calendar.clock_hour) % 24
    assert set(steps.tolist()) <= {0, 1, 2}
    assert (
        calendar.weekday[0]
        == (datetime(year, 1, 1) + timedelta(hours=int(calendar.clock_hour[0]))).weekday()
    )


def test_the_demo_year():
    case = bundled_case("music-school")
    calendar = year_calendar(case.schedule, case.site.calendar_year)
    assert year_calendar(case.schedule, case.site.calendar_year) is calendar
    # Without holidays and closure 260 x 13 h, 52 x 9 h and 53 x 5 h: 4113 h.
    assert 3700 < calendar.occupied.sum() < 4113
