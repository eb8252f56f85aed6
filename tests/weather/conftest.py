"""Weather files made from the bundled ones, for the tests to spoil."""

from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path

import pytest

from dewledger.weather.bundled import bundled_path

Write = Callable[..., Path]


@cache
def bundled_lines(name: str) -> tuple[str, ...]:
    path = bundled_path(name)
    assert path is not None
    return tuple(path.read_text(encoding="utf-8").splitlines())


@pytest.fixture(autouse=True)
def nothing_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """Files that the tests spoil are not kept in the user's cache folder."""
    monkeypatch.setattr("dewledger.weather.files.readers.keep_year", lambda key, year: None)


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Write lines to a file of the test's own and give its path."""

    def to_file(lines: list[str], name: str = "weather.csv", end: str = "\n") -> Path:
        path = tmp_path / name
        path.write_bytes((end.join(lines) + end).encode("utf-8"))
        return path

    return to_file


@pytest.fixture
def tmy3() -> list[str]:
    """Lines of the bundled Greensboro TMY3."""
    return list(bundled_lines("greensboro"))


@pytest.fixture
def tmy2() -> list[str]:
    """Lines of the bundled Miami TMY2."""
    return list(bundled_lines("miami"))


@pytest.fixture
def epw() -> list[str]:
    """Greensboro as EPW: the same hours in the format's columns, pressure in Pa."""
    return list(_epw())


@cache
def _epw() -> tuple[str, ...]:
    lines = epw_of(bundled_lines("greensboro"))
    lines[0] = "LOCATION,Greensboro Hill,NC,USA,TMY3,723170,36.100,-79.950,-5.0,273.0"
    return tuple(lines)


def epw_of(tmy3: Sequence[str]) -> list[str]:
    """The hours of a TMY3 in the columns of an EPW."""
    place = tmy3[0].rstrip(",").split(",")
    offset, latitude, longitude, altitude = place[-4:]
    name = place[1].strip('"').title()
    lines = [
        f"LOCATION,{name},-,USA,TMY3,{place[0]},{latitude},{longitude},{offset},{altitude}",
        "DESIGN CONDITIONS,0",
        "TYPICAL/EXTREME PERIODS,0",
        "GROUND TEMPERATURES,0",
        "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
        "COMMENTS 1,made for a test",
        "COMMENTS 2,-",
        "DATA PERIODS,1,1,Data,Sunday,1/ 1,12/31",
    ]
    heads = tmy3[1].split(",")
    at = {
        name: heads.index(name)
        for name in (
            "Dry-bulb (C)", "Dew-point (C)", "RHum (%)", "Pressure (mbar)", "GHI (W/m^2)",
            "DNI (W/m^2)", "DHI (W/m^2)", "Wspd (m/s)",
        )
    }  # fmt: skip
    for row in tmy3[2:]:
        f = row.split(",")
        month, day, year = f[0].split("/")
        v = {name: f[place] for name, place in at.items()}
        lines.append(
            f"{year},{int(month)},{int(day)},{int(f[1].split(':')[0])},60,?9,{v['Dry-bulb (C)']},"
            f"{v['Dew-point (C)']},{v['RHum (%)']},{v['Pressure (mbar)']}00,0,0,300,"
            f"{v['GHI (W/m^2)']},{v['DNI (W/m^2)']},{v['DHI (W/m^2)']},0,0,0,0,0,"
            f"{v['Wspd (m/s)']},0,0,9999,99999,9,999999999,0,0.999,0,99,0.2,0,0"
        )
    return lines


def tmy3_of(tmy2: Sequence[str]) -> list[str]:
    """The hours of a TMY2 in the columns of a TMY3, by the columns of the TMY2 manual."""
    head = tmy2[0]
    degrees = [
        (1 if sign in "NE" else -1) * (int(whole) + int(minutes) / 60.0)
        for sign, whole, minutes in (head[37:44].split(), head[45:53].split())
    ]
    sample = bundled_lines("greensboro")
    heads = sample[1].split(",")
    lines = [
        f"{head[1:6]},{head[7:29].strip()},{head[30:32]},{float(head[33:36])},{degrees[0]:.3f},"
        f"{degrees[1]:.3f},{int(head[53:])}",
        sample[1],
    ]
    for like, row in zip(sample[2:], tmy2[1:], strict=True):
        fields = like.split(",")
        fields[0] = f"{row[3:5].strip():0>2}/{row[5:7].strip():0>2}/19{row[1:3]}"
        fields[1] = f"{int(row[7:9]):02d}:00"
        for name, first, last, factor in (
            ("GHI (W/m^2)", 17, 21, 1.0), ("DNI (W/m^2)", 23, 27, 1.0),
            ("DHI (W/m^2)", 29, 33, 1.0), ("Dry-bulb (C)", 67, 71, 0.1),
            ("Dew-point (C)", 73, 77, 0.1), ("RHum (%)", 79, 82, 1.0),
            ("Pressure (mbar)", 84, 88, 1.0), ("Wspd (m/s)", 95, 98, 0.1),
        ):  # fmt: skip
            fields[heads.index(name)] = f"{int(row[first:last]) * factor:g}"
        lines.append(",".join(fields))
    return lines


@pytest.fixture
def as_epw() -> Callable[[Sequence[str]], list[str]]:
    """Turns the lines of a TMY3 into those of an EPW."""
    return epw_of


@pytest.fixture
def as_tmy3() -> Callable[[Sequence[str]], list[str]]:
    """Turns the lines of a TMY2 into those of a TMY3."""
    return tmy3_of


@pytest.fixture
def nsrdb() -> list[str]:
    """Greensboro as NSRDB CSV, stamped at the half hour."""
    return list(_nsrdb())


@cache
def _nsrdb() -> tuple[str, ...]:
    tmy3 = bundled_lines("greensboro")
    heads = tmy3[1].split(",")
    names = ("Dry-bulb (C)", "Dew-point (C)", "RHum (%)", "Pressure (mbar)", "GHI (W/m^2)",
             "DNI (W/m^2)", "DHI (W/m^2)", "Wspd (m/s)")  # fmt: skip
    places = [heads.index(name) for name in names]
    lines = [
        "Source,Location ID,City,State,Country,Latitude,Longitude,Time Zone,Elevation,"
        "Local Time Zone,Temperature Units,Pressure Units",
        "NSRDB,1,-,-,-,36.1,-79.95,-5,273,-5,c,mbar",
        "Year,Month,Day,Hour,Minute,Temperature,Dew Point,Relative Humidity,Pressure,GHI,DNI,DHI,"
        "Wind Speed",
    ]
    for row in tmy3[2:]:
        f = row.split(",")
        month, day, year = f[0].split("/")
        values = ",".join(f[place] for place in places)
        lines.append(f"{year},{int(month)},{int(day)},{int(f[1][:2]) - 1},30,{values}")
    return tuple(lines)


@pytest.fixture
def pvgis() -> list[str]:
    """Greensboro's hours as a PVGIS TMY, row by row as if they were UTC."""
    return list(_pvgis())


@cache
def _pvgis() -> tuple[str, ...]:
    tmy3 = bundled_lines("greensboro")
    heads = tmy3[1].split(",")
    names = ("Dry-bulb (C)", "RHum (%)", "GHI (W/m^2)", "DNI (W/m^2)", "DHI (W/m^2)",
             "Wspd (m/s)", "Pressure (mbar)")  # fmt: skip
    places = [heads.index(name) for name in names]
    lines = [
        "Latitude (decimal degrees): 36.100",
        "Longitude (decimal degrees): -79.950",
        "Elevation (m): 273.0",
        "month,year",
        *[f"{month},{2000 + month}" for month in range(1, 13)],
        "time(UTC),T2m,RH,G(h),Gb(n),Gd(h),IR(h),WS10m,WD10m,SP",
    ]
    for row in tmy3[2:]:
        f = row.split(",")
        month, day, _ = f[0].split("/")
        t, rh, ghi, dni, dhi, wind, p = (f[place] for place in places)
        stamp = f"{2000 + int(month)}{month}{day}:{int(f[1][:2]) - 1:02d}00"
        lines.append(f"{stamp},{t},{rh},{ghi},{dni},{dhi},300.0,{wind},180.0,{p}00.0")
    lines += ["", "T2m: 2-m air temperature (degree Celsius)", "", "PVGIS (c) European Union"]
    return tuple(lines)
