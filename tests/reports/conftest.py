"""The bundled demo, run once for all tests of the reports."""

import dataclasses
import shutil

import pandas as pd
import pytest

from dewledger.accounts.energy import account, monthly_account
from dewledger.case import bundled_case
from dewledger.reports.charts.study import study_charts
from dewledger.reports.files.writer import write_outputs
from dewledger.study import run_study

# A week across the end of a month: what adds up over it adds up over the year.
WEEK = slice(4268, 4436)  # from June 27


@pytest.fixture(scope="session")
def study():
    return run_study(bundled_case("music-school"))


@pytest.fixture(scope="session")
def charts(study):
    return study_charts(study, study.case.display)


@pytest.fixture(scope="session")
def drawn(charts):
    """The study's charts as SVG by name."""
    return {name: chart.svg() for name, chart in charts.items()}


@pytest.fixture(scope="session")
def folder(study, tmp_path_factory):
    """What the command writes where no format is named."""
    place = tmp_path_factory.mktemp("out") / "results"
    write_outputs(study, place)
    return place


@pytest.fixture(scope="session")
def week(study):
    """Every option of the study over one week of it, with the week's own accounts."""
    weather = dataclasses.replace(
        study.weather,
        arrays={name: values[WEEK] for name, values in study.weather.arrays.items()},
    )

    def machine_of(option):
        calendar = dataclasses.replace(
            option.machine.calendar, occupied=option.machine.calendar.occupied[WEEK]
        )
        drivers = option.machine.drivers[WEEK]
        return dataclasses.replace(option.machine, calendar=calendar, drivers=drivers)

    reference = machine_of(study.reference)

    def cut(option):
        machine, ledger = machine_of(option), option.ledger[:, WEEK].copy()
        annual = account(ledger, machine, reference, weather)
        money = {key: value for key, value in option.annual.items() if key not in annual}
        money["site_kWh"] = annual["electricity_kWh"] + annual["gas_kWh"]
        monthly = pd.DataFrame(monthly_account(ledger, weather))
        bills = [name for name in option.monthly.columns if name not in monthly]
        monthly = monthly.join(option.monthly.set_index("month")[bills], on="month")
        return dataclasses.replace(
            option,
            machine=machine,
            ledger=ledger,
            annual=annual | money,
            months={name: values.to_numpy() for name, values in monthly.items()},
        )

    options = tuple(cut(option) for option in study.options)
    return dataclasses.replace(study, weather=weather, options=options)


@pytest.fixture(scope="module")
def browser():
    """Headless Chromium, its log of the console and of the network kept."""
    webdriver = pytest.importorskip("selenium.webdriver", reason="selenium is not installed")
    if not (shutil.which("chromium") and shutil.which("chromedriver")):
        pytest.skip("chromium and chromedriver are not on this machine")
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    for flag in (
        *("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"),
        "--disable-background-networking",
    ):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    options.binary_location = shutil.which("chromium")
    driver = webdriver.Chrome(options, Service(shutil.which("chromedriver")))
    driver.set_script_timeout(180)
    yield driver
    driver.quit()
