"""A study held against bills: its own energy gives no difference; a typical year is refused."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from dewledger.accounts.energy import electricity_kW
from dewledger.analysis.meter import calibration
from dewledger.analysis.meter.bills import by_period, read_bills
from dewledger.analysis.monte_carlo import Assumed
from dewledger.case import bundled_case
from dewledger.quantities import rounded
from dewledger.reports.page.meter import calibration_sentences, fitted_band
from dewledger.reports.page.summary import facts
from dewledger.study import read_weather, run_study
from dewledger.views.meter import (
    calibrate_study,
    compare_with_meter,
    energy_saving_name,
    normalized,
)
from dewledger.weather.errors import InputError

MONTHS = [f"2021-{month:02d}" for month in range(1, 13)]


@pytest.fixture(scope="module")
def study():
    """Two options of the bundled rooftop case, on a year said to be an actual one."""
    case = bundled_case("rooftop")
    weather = read_weather(case)
    station = replace(weather.station, kind="actual", year=2021)
    return run_study(case, replace(weather, station=station))


def billed(study, key, factor=1.0):
    option = next(one for one in study.options if one.key == key)
    places = read_bills(pd.DataFrame({"month": MONTHS, "kWh": 1.0}))
    used = by_period(electricity_kW(option.ledger), places, 2021)
    return pd.DataFrame({"month": MONTHS, "kWh": factor * used})


def test_its_own_energy_billed_gives_no_difference(study):
    found = compare_with_meter(study, billed(study, "none"), option="none")
    assert abs(found.nmbe) < 1e-12
    assert found.cv_rmse < 1e-12
    assert found.monthly["fits"].all()
    annual = next(one for one in study.options if one.key == "none").annual
    assert found.monthly["modeled_kWh"].sum() == pytest.approx(annual["electricity_kWh"])


def test_a_model_that_is_low_has_a_positive_bias_and_is_explained(study):
    found = compare_with_meter(study, billed(study, "none", 1.25), option="none")
    # Bills 25 % over the model: sum(m - s) = 0.2 sum(m), so NMBE = 0.2 x 12 / 11.
    assert found.nmbe == pytest.approx(0.2 * 12 / 11)
    assert found.explanations


def test_a_typical_year_is_refused_in_one_sentence(study):
    typical = replace(study, weather=read_weather(study.case))
    with pytest.raises(
        InputError, match="bills can only be compared with the weather of their own"
    ):
        compare_with_meter(typical, billed(study, "none"), option="none")


def test_an_unknown_option_is_one_sentence(study):
    with pytest.raises(InputError, match='option "gaz" is not in the study'):
        compare_with_meter(study, billed(study, "none"), option="gaz")


def test_bills_narrow_what_they_can_tell_and_give_the_saving_a_band(study, monkeypatch):
    """Draws of two inputs only, and few of them, so that the test is quick: gains move the bills,
    prices do not."""
    monkeypatch.setattr(calibration, "ENOUGH", 3.0)
    monkeypatch.setattr(calibration, "_HEAVIEST", 0.9)
    monkeypatch.setattr(calibration, "_PRIOR_SHOWN", 5)
    monkeypatch.setattr(calibration, "_SHOWN", 10)
    assumed = (
        Assumed("gains", 0.75, 1.0, 1.25, "for the test"),
        Assumed("electricity price", 0.8, 1.0, 1.2, "for the test"),
    )
    metered = {"meter.file": "bills.csv", "meter.typical_weather": "greensboro"}
    study = replace(study, case=study.case.with_values(metered))
    found = calibrate_study(
        study, billed(study, "none"), option="none", draws=40, seed=1, assumed=assumed
    )
    gains, price = found.inputs
    assert gains.told_apart
    assert not price.told_apart
    # The year of the bills is the typical one by another name: normalized savings are the avoided.
    avoided = found.posterior[energy_saving_name("condenser")]
    assert np.isfinite(avoided.p50)
    assert found.posterior[normalized(energy_saving_name("condenser"))] == avoided

    # Page one gives the band that the bills leave, against the option whose bills they are.
    condenser = next(one for one in study.options if one.key == "condenser")
    assert fitted_band(study, condenser) == ""
    told = replace(
        study,
        meter=compare_with_meter(study, billed(study, "none"), option="none"),
        calibration=found,
    )
    said = " ".join(calibration_sentences(told))
    assert (
        "avoided energy in the weather of 2021, by calibrated simulation (IPMVP option D)" in said
    )
    assert "Normalized to the typical year, it saves" in said
    band = found.posterior["cost saving of condenser"]
    sentence = fitted_band(told, condenser)
    assert f"{rounded(band.p10)} to {rounded(band.p90)}".replace("-", "−") in sentence
    assert "against today’s “No humidity control”" in sentence
    said = dict(facts(told, "I-P"))["How sure"]
    assert any("fit the bills" in line for line in said)


def test_a_typical_year_that_is_none_is_refused(study, tmp_path):
    wrong = {"meter.file": "bills.csv", "meter.typical_weather": "nowhere.epw"}
    metered = replace(study, case=study.case.with_values(wrong))
    with pytest.raises(InputError, match=r"nowhere\.epw"):
        calibrate_study(metered, billed(study, "none"), option="none", draws=10)
