"""Weather asked of a service: what is kept of a good answer, and one sentence for every bad one.

A loopback server answers as the two services do, or as badly as it is set to. The shapes are those
of recorded answers, of PVGIS 5.3 and of POWER's hourly service, with all their parts; the values
are made here, of a place that follows the sun.
"""

import json
import re
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlsplit

import numpy as np
import pandas as pd
import pytest

from dewledger.weather.asking import Patience
from dewledger.weather.errors import InputError
from dewledger.weather.files.readers import read
from dewledger.weather.remote import fetch, place_from_text, utc_offset_from_text

Respond = Callable[[BaseHTTPRequestHandler, dict[str, str]], None]


def made_up(times: pd.DatetimeIndex, longitude: float) -> dict[str, np.ndarray]:
    """Weather by date and by the sun of the longitude, warmest two hours after noon."""
    day = times.day_of_year.to_numpy()
    solar = times.hour.to_numpy() + 0.5 + longitude / 15.0
    sun = np.cos((solar - 12.0) / 24.0 * 2.0 * np.pi)
    season = np.cos((day - 200.0) / 365.0 * 2.0 * np.pi)
    up = np.maximum(sun + 0.3 * season, 0.0)
    temp = 18.0 + 9.0 * season + 5.0 * np.cos((solar - 14.0) / 24.0 * 2.0 * np.pi)
    dew = temp - 4.0 - 3.0 * (sun + 1.0)
    return {"temp": temp, "dew": dew, "rh": 100.0 * np.exp(-0.065 * (temp - dew)), "sun": up}


def pvgis_answer(latitude: float, longitude: float) -> dict[str, Any]:
    """A typical year in JSON as PVGIS 5.3 sends it."""
    years = [2018, 2007, 2009, 2013, 2008, 2006, 2011, 2010, 2020, 2006, 2007, 2016]
    times = pd.date_range("2023-01-01", periods=8760, freq="h")
    made = made_up(times, longitude)
    hours = [
        {
            "time(UTC)": f"{years[t.month - 1]}{t:%m%d}:{t:%H}00",
            "T2m": round(float(temp), 2),
            "RH": round(float(rh), 2),
            "G(h)": round(800.0 * float(up), 1),
            "Gb(n)": round(600.0 * float(up), 2),
            "Gd(h)": round(200.0 * float(up), 1),
            "IR(h)": 300.0,
            "WS10m": 3.1,
            "WD10m": 180.0,
            "SP": 101200.0 + 10.0 * (t.day % 7),
        }
        for t, temp, rh, up in zip(times, made["temp"], made["rh"], made["sun"], strict=True)
    ]
    return {
        "inputs": {
            "location": {
                "latitude": latitude,
                "longitude": longitude,
                "elevation": 4.0,
                "irradiance_time_offset": 0.1761,
            },
            "meteo_data": {
                "radiation_db": "PVGIS-NSRDB",
                "meteo_db": "ERA5",
                "year_min": 2005,
                "year_max": 2023,
                "use_horizon": True,
                "horizon_db": "DEM-calculated",
            },
        },
        "outputs": {
            "months_selected": [{"month": i + 1, "year": year} for i, year in enumerate(years)],
            "tmy_hourly": hours,
        },
        "meta": {"inputs": {"location": {}, "meteo_data": {}}, "outputs": {}},
    }


def power_answer(asked: dict[str, str]) -> dict[str, Any]:
    """Hours in JSON as POWER's hourly point service sends them: keyed YYYYMMDDHH, -999 missing."""
    longitude = float(asked["longitude"])
    first, last = (pd.Timestamp(asked[name]) for name in ("start", "end"))
    times = pd.date_range(first, last + pd.Timedelta(hours=23), freq="h")
    made = made_up(times, longitude)
    columns = {
        "T2M": made["temp"],
        "T2MDEW": made["dew"],
        "RH2M": made["rh"],
        "PS": np.full(len(times), 101.2) + 0.01 * (times.day.to_numpy() % 7),
        "ALLSKY_SFC_SW_DWN": 800.0 * made["sun"],
        "ALLSKY_SFC_SW_DNI": 600.0 * made["sun"],
        "ALLSKY_SFC_SW_DIFF": 200.0 * made["sun"],
        "WS10M": np.full(len(times), 3.1),
    }
    keys = [f"{t:%Y%m%d%H}" for t in times]
    values = {
        name: dict(zip(keys, np.round(columns[name], 2).tolist(), strict=True))
        for name in asked["parameters"].split(",")
    }
    values["T2M"][keys[4000]] = -999.0
    return {
        "type": "Feature",
        "geometry": {
            "type": "Point",
            "coordinates": [longitude, float(asked["latitude"]), 11.62],
        },
        "properties": {"parameter": values},
        "header": {
            "title": "NASA/POWER Source Native Resolution Hourly Data",
            "api": {"version": "v2.5.23", "name": "POWER Hourly API"},
            "sources": ["SYN1DEG", "MERRA2"],
            "fill_value": -999.0,
            "time_standard": "UTC",
            "start": asked["start"],
            "end": asked["end"],
        },
        "messages": [],
        "parameters": {name: {"units": "", "longname": name} for name in values},
        "times": {"data": 0.1, "process": 0.1},
    }


def send(
    handler: BaseHTTPRequestHandler,
    body: bytes,
    status: int = 200,
    length: int | None = None,
    **headers: str,
) -> None:
    handler.send_response(status)
    handler.send_header("Content-Length", str(len(body) if length is None else length))
    for name, value in headers.items():
        handler.send_header(name.replace("_", "-"), value)
    handler.end_headers()
    handler.wfile.write(body)


def good(handler: BaseHTTPRequestHandler, asked: dict[str, str]) -> None:
    if "lat" in asked:
        answer = pvgis_answer(float(asked["lat"]), float(asked["lon"]))
    else:
        answer = power_answer(asked)
    send(handler, json.dumps(answer).encode())


def with_status(status: int, body: bytes, **headers: str) -> Respond:
    return lambda handler, asked: send(handler, body, status, **headers)


def cut(handler: BaseHTTPRequestHandler, asked: dict[str, str]) -> None:
    """Half of what the header says, then the end of the connection."""
    send(handler, b'{"inputs": {"location": {"lat', length=4000)


def cut_short(handler: BaseHTTPRequestHandler, asked: dict[str, str]) -> None:
    """JSON that breaks off, whole by its length."""
    send(handler, b'{"inputs": {"location": {"lat')


def hang(handler: BaseHTTPRequestHandler, asked: dict[str, str]) -> None:
    time.sleep(1.0)


def drip(handler: BaseHTTPRequestHandler, asked: dict[str, str]) -> None:
    """A byte now and then, never silent for long and never done."""
    handler.send_response(200)
    handler.send_header("Content-Length", "1000")
    handler.end_headers()
    for _ in range(30):
        handler.wfile.write(b" ")
        handler.wfile.flush()
        time.sleep(0.05)


@contextmanager
def served(*responses: Respond) -> Iterator[tuple[str, list[str]]]:
    """Address of a server that answers in turn, the last again and again; and what it was asked."""
    left = list(responses)
    paths: list[str] = []

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            paths.append(self.path)
            respond = left.pop(0) if len(left) > 1 else left[0]
            query = parse_qs(urlsplit(self.path).query)
            with suppress(BrokenPipeError, ConnectionResetError):  # the other side has given up
                respond(self, {name: values[0] for name, values in query.items()})

        def log_message(self, *words: Any) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}/", paths
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


TAMPA = (27.95, -82.46)
BRISK = Patience(silence_s=30.0, whole_s=60.0, pause_s=0.0)
IMPATIENT = Patience(silence_s=0.3, whole_s=0.6, pause_s=0.0)


def test_a_typical_year(tmp_path):
    save = tmp_path / "tampa.csv"
    with served(good) as (url, asked):
        year = fetch(*TAMPA, save, url=url, patience=BRISK)
    assert len(asked) == 1
    assert "lat=27.95&lon=-82.46" in asked[0]
    station = year.station
    assert (station.kind, station.year, station.utc_offset_h) == ("typical", None, -5.0)
    assert (station.latitude, station.longitude, station.altitude_m) == (27.95, -82.46, 4.0)
    assert station.source_years[1] == 2018
    assert station.source_years[12] == 2016
    assert station.irradiance_minute == pytest.approx(60 * 0.1761)
    # row 0 UTC is 19:00 of local standard time the day before: rolled to the year's other end
    first = pvgis_answer(*TAMPA)["outputs"]["tmy_hourly"][0]
    assert year.column("temp_air_C")[8760 - 5] == first["T2m"]
    assert year.column("rh_frac")[8760 - 5] == pytest.approx(first["RH"] / 100)
    assert year.column("ghi_Wm2").max() > 500
    assert read(save).frame.equals(year.frame)
    said = dict(station.provenance)
    assert "PVGIS" in said["source"]
    assert "2005 to 2023" in said["source"]
    assert said["address"].startswith(url)
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", said["retrieved"])
    assert "name the source" in said["terms"]
    findings = " ".join(f.sentence for f in year.findings if f.check == "caution of the source")
    assert "coasts and hills" in findings
    assert "UTC-5 h is taken from the longitude" in findings


def test_an_actual_year_is_cut_at_local_new_year(tmp_path):
    with served(good) as (url, asked):
        year = fetch(*TAMPA, tmp_path / "t.csv", year=2023, url=url, patience=BRISK)
    assert "time-standard=utc" in asked[0]
    parameters = re.search(r"parameters=([^&]*)", asked[0])
    assert parameters is not None
    assert parameters[1].count("%2C") + 1 <= 15  # the most the service gives at once
    assert (year.station.kind, year.station.year) == ("actual", 2023)
    assert year.station.irradiance_minute == 30.0
    answer = power_answer(
        {
            "latitude": "27.95", "longitude": "-82.46", "start": "20221231", "end": "20240101",
            "parameters": "T2M,T2MDEW,RH2M,PS,ALLSKY_SFC_SW_DWN,ALLSKY_SFC_SW_DNI,"
            "ALLSKY_SFC_SW_DIFF,WS10M",
        }
    )["properties"]["parameter"]  # fmt: skip
    assert year.column("temp_air_C")[0] == answer["T2M"]["2023010105"]
    assert year.column("temp_dew_C")[8759] == answer["T2MDEW"]["2024010104"]
    assert year.column("pressure_Pa")[0] == pytest.approx(1000 * answer["PS"]["2023010105"])
    gaps = [finding for finding in year.findings if finding.check == "gap"]
    assert [finding.count for finding in gaps] == [1]  # the one hour of -999
    assert "year_min" not in str(year.station.provenance)


def test_a_leap_year_and_a_half_hour_zone(tmp_path):
    with served(good) as (url, _):
        year = fetch(
            22.57, 88.36, tmp_path / "k.csv", year=2020, utc_offset_h=5.5, url=url, patience=BRISK
        )
    assert "leap day" in {finding.check for finding in year.findings}
    assert (year.station.utc_offset_h, year.station.irradiance_minute) == (5.5, 0.0)
    assert "longitude, not" not in str(year.findings)


@pytest.mark.parametrize(
    ("response", "sentence", "asked_times"),
    [
        (with_status(429, b'{"message": "slow down"}'), r"too often \(429\)", 3),
        (with_status(429, b"Too Many Requests"), r"too often \(429\)", 3),
        (with_status(503, b"<html>down</html>"), r"out of order \(503\)", 3),
        (with_status(500, b""), r"out of order \(500\)", 3),
        (
            with_status(400, b'{"message": "Location over the sea", "status": 400}'),
            r'refuses what was asked \(400\), saying "Location over the sea"',
            1,
        ),
        (with_status(404, b"no"), r"refuses what was asked \(404\);", 1),
        (with_status(200, b"<html>log in</html>"), "no weather year", 3),
        (with_status(200, b"{}"), "no weather year", 3),
        (with_status(200, b"[1, 2]"), "no weather year", 3),
        (cut, r"broke off its answer|no weather year|cannot be reached", 3),
        (cut_short, "no weather year", 3),
        (hang, "did not answer at 127.0.0.1 within 0.3 s", 3),
        (drip, "did not answer at 127.0.0.1 within", 3),
    ],
)
@pytest.mark.parametrize("year", [None, 2023], ids=["typical", "actual"])
def test_a_bad_answer_is_one_sentence(response, sentence, asked_times, year, tmp_path):
    save = tmp_path / "place.csv"
    waits = IMPATIENT if response in (hang, drip) else BRISK
    with (
        served(response) as (url, asked),
        pytest.raises(InputError, match=sentence) as raised,
    ):
        fetch(*TAMPA, save, year=year, url=url, patience=waits)
    assert len(asked) == asked_times
    assert "\n" not in str(raised.value)
    assert str(raised.value).startswith("NASA POWER" if year else "PVGIS")
    assert list(tmp_path.iterdir()) == []


def test_offline_is_one_sentence(tmp_path):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        url = f"http://127.0.0.1:{free.getsockname()[1]}/"
    with pytest.raises(
        InputError, match=r"cannot be reached at 127.0.0.1 \(tried 3 times\); check"
    ):
        fetch(*TAMPA, tmp_path / "place.csv", url=url, patience=BRISK)


def test_a_second_try_is_enough(tmp_path):
    said = []
    with served(with_status(503, b"x", Retry_After="0"), good) as (url, _):
        fetch(*TAMPA, tmp_path / "t.csv", url=url, patience=BRISK, say=said.append)
    assert said == ["asking PVGIS at 127.0.0.1", "asking PVGIS at 127.0.0.1, try 2"]


def test_an_answer_with_a_long_gap_leaves_no_file(tmp_path):
    def gappy(handler, asked):
        answer = pvgis_answer(*TAMPA)
        for row in answer["outputs"]["tmy_hourly"][2000:2100]:
            row["T2m"] = None
        send(handler, json.dumps(answer).encode())

    with (
        served(gappy) as (url, _),
        pytest.raises(InputError, match="the answer cannot serve: dry bulb is missing"),
    ):
        fetch(*TAMPA, tmp_path / "t.csv", url=url, patience=BRISK)
    assert list(tmp_path.iterdir()) == []


def test_what_cannot_be_asked_is_not(tmp_path):
    there = tmp_path / "there.csv"
    there.touch()
    with pytest.raises(InputError, match="is there already"):
        fetch(*TAMPA, there)
    with pytest.raises(InputError, match="folder of"):
        fetch(*TAMPA, tmp_path / "no" / "t.csv")
    for year in (1999, 2999):
        with pytest.raises(InputError, match=f"year {year} is not available; write one from 2001"):
            fetch(*TAMPA, tmp_path / "t.csv", year=year)
    for url in ("nonsense", "ftp://x/", "http://[", "http://"):
        with pytest.raises(InputError, match=r"no address|cannot be reached"):
            fetch(*TAMPA, tmp_path / "t.csv", url=url, patience=BRISK)


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("27.95, -82.46", (27.95, -82.46)),
        ("27.95 N, 82.46 W", (27.95, -82.46)),
        ("27.95N 82.46W", (27.95, -82.46)),
        ("33.9 S 151.2 E", (-33.9, 151.2)),
        ("-33.9;151.2", (-33.9, 151.2)),
    ],
)
def test_places(text, place):
    assert place_from_text(text) == pytest.approx(place)


@pytest.mark.parametrize("text", ["", "Tampa", "27.95", "91, 0", "0, 181", "1" * 10_000, "1,2,3"])
def test_no_places(text):
    with pytest.raises(InputError, match="no place"):
        place_from_text(text)


@pytest.mark.parametrize(
    ("text", "offset"),
    [("-5", -5), ("UTC-5", -5), ("+5:30", 5.5), ("5.75", 5.75), ("America/New_York", -5),
     ("Australia/Sydney", 10), ("Europe/Dublin", 0), ("Asia/Kolkata", 5.5)],
)  # fmt: skip
def test_zones(text, offset):
    assert utc_offset_from_text(text) == offset


@pytest.mark.parametrize("text", ["", "Eastern Mars", "25", "../etc/passwd", "/etc/passwd"])
def test_no_zones(text):
    with pytest.raises(InputError, match="no time zone"):
        utc_offset_from_text(text)


def test_the_head_of_a_plain_csv(write):
    rows = ["temp_air_C,rh_frac", *["25,0.5"] * 8760]
    head = [
        "# a remark",
        "# latitude: 27.95",
        "#longitude:-82.46",
        "# altitude_m: 12",
        "# other: x",
    ]
    station = read(write([*head, *rows])).station
    assert (station.latitude, station.longitude, station.altitude_m) == (27.95, -82.46, 12)
    assert np.isnan(station.utc_offset_h) or station.utc_offset_h == -5
    with pytest.raises(InputError, match='line 1 gives "north" as latitude'):
        read(write(["# latitude: north", *rows]))
    with pytest.raises(InputError, match="neither typical nor actual"):
        read(write(["# kind: both", *rows]))
    with pytest.raises(InputError, match="says that this is an actual year"):
        read(write(["# kind: actual", "# altitude_m: 3", *rows]))
    assert read(write(["# kind: actual 2023", "# altitude_m: 3", *rows])).station.year == 2023
    rows[100] = "25,wet"
    with pytest.raises(InputError, match='line 105 has "wet"'):
        read(write([*head[:4], *rows]))


def command(*arguments):
    import subprocess
    import sys

    return subprocess.run(
        [sys.executable, "-m", "dewledger", "weather", *map(str, arguments)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip


def test_the_command_gets_a_place(tmp_path):
    save = tmp_path / "tampa.csv"
    with served(good) as (url, _):
        done = command("--at", "27.95, -82.46", "--save", save, "--year", 2023, "--url", url)
    assert (done.returncode, done.stderr) == (0, "asking NASA POWER at 127.0.0.1\n")
    said = " ".join(done.stdout.split())
    assert "tampa.csv NASA POWER 27.950, -82.460 (2023)" in said
    # by hand: 2.15 degrees of latitude and 2.193 cos 26.9 of longitude, 111.19 km each, 323 km
    assert re.search(r"bundled station: miami, Miami, FL \(typical year\), 20[01] mi away", said)
    assert "Thermal climate zone" in said
    assert "coasts and hills" in said
    assert read(save).station.year == 2023


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["--at", "27.95, -82.46"], "--at needs a file to write"),
        (["--save", "x.csv"], "belong to --at"),
        (["miami", "--at", "1, 2", "--save", "x.csv"], "are two places"),
        (
            ["--at", "-33.9 151.2", "--save", "x.csv", "--url", "http://127.0.0.1:1/"],
            "cannot be re",
        ),
        (["--at", "Tampa", "--save", "x.csv"], '"Tampa" is no place'),
    ],
)
def test_the_command_says_what_is_wrong(arguments, sentence, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("time.sleep", lambda seconds: None)
    import sys

    from dewledger.reports.command.app import main

    monkeypatch.setattr(sys, "argv", ["dewledger", "weather", *arguments])
    with pytest.raises(SystemExit) as stop:
        main()
    assert stop.value.code == 2
    assert list(tmp_path.iterdir()) == []
