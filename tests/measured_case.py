"""The demo with bills, trends and a sensitivity: a report that has every section there is."""

from dataclasses import replace

import numpy as np
import pandas as pd

from dewledger.analysis.sensitivity import sensitivity_study
from dewledger.assembly.short_year import short_ledger
from dewledger.case import bundled_text, case_from_text
from dewledger.study import run_study
from dewledger.views.meter import with_measurements

YEAR = 2023


def write_case(study, folder):
    """A case file whose weather, bills and trends are made of a study of the demo; its path.

    The bills and trends are the model's own with noise and a bias, so that something is learned.
    """
    drawn = np.random.default_rng(3)
    station = study.weather.station
    head = {
        "name": "A made year",
        "latitude": station.latitude,
        "longitude": station.longitude,
        "altitude_m": station.altitude_m,
        "utc_offset_h": station.utc_offset_h,
        "kind": f"actual year {YEAR}",
    }
    columns = ["temp_air_C", "temp_dew_C", "pressure_Pa", "ghi_Wm2", "dni_Wm2", "dhi_Wm2"]
    lines = "".join(f"# {key}: {value}\n" for key, value in head.items())
    weather = lines + study.weather.frame[columns].to_csv(index=False)
    (folder / "weather.csv").write_text(weather, encoding="utf-8")
    months = study.reference.monthly
    bills = pd.DataFrame(
        {
            "month": [f"{YEAR}-{month:02d}" for month in months["month"]],
            "kWh": (months["electricity_kWh"] * drawn.normal(1.1, 0.05, 12)).round(),
            "therms": (months["gas_kWh"] / 29.3071 * drawn.normal(1.05, 0.05, 12)).round(1),
        }
    )
    bills.to_csv(folder / "bills.csv", index=False)
    hours = pd.date_range(f"{YEAR}-01-01", periods=8760, freq="h")
    names = study.hourly(study.reference.key)
    trend = pd.DataFrame(
        {
            "time": hours.strftime("%Y-%m-%d %H:%M"),
            "ZN-T": (names["room_temp_C"].to_numpy() * 1.8 + 32.4).round(2),
            "ZN-RH": (names["room_rh_frac"].to_numpy() * 100.0 + 1.0).round(1),
        }
    )
    trend.to_csv(folder / "trend.csv", index=False)
    text = bundled_text("music-school").replace('weather = "greensboro"', 'weather = "weather.csv"')
    text += """
[meter]
file = "bills.csv"
[trend]
file = "trend.csv"
time = "time"
columns = { room_temperature = "ZN-T", room_relative_humidity = "ZN-RH" }
"""
    path = folder / "measured.toml"
    path.write_text(text, encoding="utf-8")
    return path


def measured_study(study, folder):
    """That case run, with few draws: what the pages look like, not what they say."""
    path = write_case(study, folder)
    found = run_study(case_from_text(path.read_text(encoding="utf-8"), folder, path.name))
    found = with_measurements(found, draws=24)
    effects = sensitivity_study(found.case, [found.weather], short_ledger, draws=8)
    return replace(found, sensitivity=effects)
