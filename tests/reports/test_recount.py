"""The accounts of summary.json and monthly.csv counted again from the hourly CSV files.

Nothing of the program is used but the files: columns added up, hours counted, spells walked
through. The range of the bundled case is 40 to 55 % (its case file).
"""

import csv
import json

import pytest

LOW, HIGH = 0.40, 0.55
PURCHASED = ("compressor", "condenser_fan", "supply_fan", "reheat_coil_fan",
             "reheat_purchased_electricity", "heating_purchased_electricity")  # fmt: skip
PEAKS = {
    "peak_overcooling_kW": "overcooling_heat_kWh",
    "peak_recovered_kW": "reheat_recovered_kWh",
    "peak_new_energy_kW": "reheat_purchased_kWh",
    "peak_cooling_kW": "cooling_total_kWh",
}


def longest(hours):
    """Longest run of true hours from 1 January to 31 December."""
    best = run = 0
    for hour in hours:
        run = run + 1 if hour else 0
        best = max(best, run)
    return best


@pytest.fixture(scope="module", params=["none", "electric", "condenser-trim"])
def option(request, folder):
    """Key, annual accounts, rows of the hourly file, rows of the monthly file."""
    key = request.param
    with (folder / f"hourly-{key}.csv").open(encoding="utf-8") as file:
        hourly = list(csv.DictReader(file))
    with (folder / "monthly.csv").open(encoding="utf-8") as file:
        monthly = [row for row in csv.DictReader(file) if row["option"] == key]
    summary = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    return summary["options"][key]["annual"], hourly, monthly


def added(rows, name):
    return sum(float(row[name]) for row in rows)


def test_hours_and_spells(option):
    annual, hourly, _ = option
    assert len(hourly) == 8760
    above = [float(row["room_rh_frac"]) > HIGH for row in hourly]
    below = [float(row["room_rh_frac"]) < LOW for row in hourly]
    occupied = [row["occupied"] == "1" for row in hourly]
    for name, out in (("above", above), ("below", below)):
        assert annual[f"hours_{name}_range"] == sum(out)
        together = sum(a and b for a, b in zip(out, occupied, strict=True))
        assert annual[f"hours_{name}_range_occupied"] == together
        assert annual[f"longest_spell_{name}_h"] == longest(out)
    assert sum(annual["hours_above_by_cause"].values()) == sum(above)


def test_totals_peaks_and_share(option):
    annual, hourly, _ = option
    for name in hourly[0]:
        if name in annual:
            # each hour is written to a millionth
            assert added(hourly, name) == pytest.approx(annual[name], abs=0.005), name
    purchased = sum(added(hourly, f"{name}_kWh") for name in PURCHASED)
    assert purchased == pytest.approx(annual["electricity_kWh"], abs=0.05)
    for peak, name in PEAKS.items():
        assert max(float(row[name]) for row in hourly) == pytest.approx(annual[peak], abs=1e-6)
    recovered, new = (added(hourly, f"reheat_{kind}_kWh") for kind in ("recovered", "purchased"))
    if recovered + new > 0.0:
        assert recovered / (recovered + new) == pytest.approx(annual["recovered_share"], abs=1e-6)
    else:
        assert annual["recovered_share"] is None
    # the reference purchases electric resistance of efficiency 1
    assert annual["avoided_new_energy_kWh"] == pytest.approx(recovered, abs=0.005)


def test_months(option):
    _, hourly, monthly = option
    for month in monthly:
        own = [row for row in hourly if row["month"] == month["month"]]
        assert len(own) == int(month["hours"])
        for name in ("compressor_kWh", "envelope_kWh", "gains_sensible_kWh", "condensate_kg"):
            assert added(own, name) == pytest.approx(float(month[name]), abs=0.001), name


def test_heat_and_water_of_every_hour(option):
    """What comes in, less what goes out, is what the room stores; by hand from the columns."""
    _, hourly, _ = option
    gains = ("gains_sensible", "envelope", "ventilation_sensible", "supply_fan", "reheat_coil_fan",
             "heating", "reheat_recovered", "reheat_purchased")  # fmt: skip
    for row in hourly:
        got = {name: float(text) for name, text in row.items() if text}
        heat = sum(got[f"{name}_kWh"] for name in gains)
        assert abs(heat - got["cooling_sensible_kWh"] - got["heat_stored_kWh"]) < 1e-5
        water = got["gains_moisture_kg"] + got["outdoor_moisture_kg"]
        assert abs(water - got["condensate_kg"] - got["moisture_stored_kg"]) < 1e-5
        split = got["cooling_sensible_kWh"] + got["cooling_latent_kWh"]
        assert abs(got["cooling_total_kWh"] - split) < 1e-5
        given_back = sum(got[f"reheat_{way}_kWh"] for way in ("recovered", "purchased"))
        short = got["reheat_unmet_kWh"]
        assert abs(got["overcooling_heat_kWh"] - given_back - short) < 1e-5
