"""A case run: options, reference, progress, the demo's answer, weather of the case's own."""

import numpy as np
import pytest

from dewledger.accounts.energy import column
from dewledger.assembly import year as assembly_year
from dewledger.case import bundled_case, case_from_text
from dewledger.study import read_weather, run_study, solve_option, versions
from dewledger.weather.files.readers import read


@pytest.fixture(scope="module")
def demo():
    return run_study(bundled_case("music-school"))


def test_options_in_their_order(demo):
    assert [option.key for option in demo.options] == [
        option.key for option in demo.case.option_cases()
    ]
    assert demo.reference.key == "electric"
    for option in demo.options:
        assert option.ledger.shape[1] == 8760
        assert len(option.monthly) == 12


def test_progress_counts_up_to_done():
    reported = []
    run_study(
        bundled_case("rooftop"), progress=lambda what, step, of: reported.append((what, step, of))
    )
    assert reported[0][0] == "reading weather"
    assert reported[-1][0] == "done"
    assert reported[-1][1] == reported[-1][2]
    steps = [step for _, step, _ in reported]
    assert steps == sorted(steps)


def test_demo_tells_its_story(demo):
    """Signs and orders of magnitude by engineering sense (common practice, no source).

    Drying a mild, humid year takes overcooling; condenser heat recovers nearly all of it; without
    control the room stands above its range for hundreds of hours or more.
    """
    annual = {option.key: option.annual for option in demo.options}
    assert annual["none"]["hours_above_range"] > 500
    for key in ("electric", "gas", "condenser", "condenser-trim"):
        assert annual[key]["hours_above_range"] < 0.1 * annual["none"]["hours_above_range"]
        assert annual[key]["overcooling_heat_kWh"] > 5000.0
    assert annual["electric"]["recovered_share"] == 0.0
    assert annual["condenser"]["recovered_share"] > 0.95
    assert annual["condenser"]["electricity_kWh"] < annual["electric"]["electricity_kWh"]
    # Electric and gas reheat are the same air side: only what is purchased differs.
    for name in ("cooling_total_kWh", "compressor_kWh", "overcooling_heat_kWh", "condensate_kg"):
        assert annual["gas"][name] == pytest.approx(annual["electric"][name], rel=1e-6)
    # Head pressure held at 105 F in hours with reheat costs more than the heat diverted from the
    # outdoor coil saves, and far less than the heat is worth as resistance.
    penalty = annual["condenser"]["recovery_penalty_kWh"]
    assert 0.0 < penalty < 0.2 * annual["condenser"]["reheat_recovered_kWh"]


def test_threads_change_nothing(demo):
    for option in demo.options:
        again = solve_option(option.machine)
        # What gas reheat purchases is worked out from the year of electric reheat.
        rounding = 1e-14 if option.key == "gas" else 0.0
        np.testing.assert_allclose(option.ledger, again, rtol=rounding, atol=0.0)


def test_warm_up_settles_the_room(demo):
    """The year starts from its own end: twice the running-in moves the year by nothing to see."""
    option = demo.reference
    longer = solve_option(option.machine, 672)
    for name in ("cooling_total_kWh", "overcooling_heat_kWh"):
        assert column(longer, name).sum() == pytest.approx(
            column(option.ledger, name).sum(), rel=1e-4
        )


def test_other_weather_than_the_case_names():
    case = bundled_case("rooftop")
    study = run_study(case, read("miami"))
    assert "Miami" in study.weather.station.name
    assert "Greensboro" in read_weather(case).station.name


def test_weather_columns_and_place_of_the_case(tmp_path):
    rows = "\n".join(["20,60"] * 8760)
    (tmp_path / "w.csv").write_text(f"dry,humid\n{rows}\n")
    text = """
format = 2
title = "Store"
[site]
weather = "w.csv"
weather_columns = { temp_air_C = "dry", rh_percent = "humid" }
name = "Hill"
latitude = 40.0
longitude = -75.0
altitude = "1000 ft"
utc_offset = -5
[room]
floor_area = "100 m2"
height = "3 m"
conductance = "100 W/K"
cooling_setpoint = "24 degC"
heating_setpoint = "20 degC"
[air]
supply_flow = "500 L/s"
fan_power = "300 W"
[unit]
rating = "gross"
total_capacity = "9 kW"
sensible_heat_ratio = "72 %"
efficiency = "3.4 COP"
[options.only]
title = "Only"
"""
    year = read_weather(case_from_text(text, tmp_path))
    assert year.station.name == "Hill"
    assert year.station.altitude_m == pytest.approx(304.8)
    # Standard atmosphere at 1000 ft: 14.173 psia (ASHRAE Fundamentals ch. 1 table of altitudes).
    assert year.frame["pressure_Pa"].mean() == pytest.approx(14.173 * 6894.757, rel=1e-3)


def test_versions_that_decide_the_numbers():
    found = versions()
    assert {"dewledger", "numba", "CoolProp", "python"} <= set(found)
    assert all(found.values())


def test_a_study_solves_no_year_twice(monkeypatch):
    """Five options, the coil that the code asks for and the sizing: 18 years, no two alike."""
    solved = []
    solve = assembly_year.solve_year

    def counted(*arguments):
        solved.append(arguments)
        solve(*arguments)

    monkeypatch.setattr(assembly_year, "solve_year", counted)
    run_study(bundled_case("music-school"))
    assert len(solved) <= 18
    asked = {
        repr((plant, room, control, sources.tobytes(), drivers.tobytes()))
        for _, plant, room, control, sources, drivers, *_ in solved
    }
    assert len(asked) == len(solved)
