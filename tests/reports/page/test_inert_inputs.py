"""Keys that nothing reads in a case are not printed as its inputs; and nothing does read them."""

import pytest
from former_premises import former_case

from dewledger import InputError
from dewledger.case import bundled_case
from dewledger.reports.page.inputs import differences, with_origins


def paths(case):
    return {item.path for item in with_origins(case, case.display)}


@pytest.mark.parametrize(
    "path",
    [
        "unit.stages",
        "unit.stage_coil",
        "unit.minimum_capacity",
        "air.reset_from",
        "air.minimum_flow",
        "air.flow_before_reheat",
        "prices.demand_ratchet_months",
        "ranges.reason",
    ],
)
def test_a_cycling_unit_of_constant_flow_prints_none_of_these(path):
    assert path not in paths(former_case("music-school"))


def test_what_an_option_reads_is_printed_of_the_case():
    staged = {"capacity_control": "stages", "stages": ["50 %", "100 %"]}
    case = former_case("music-school").with_values({"options.electric.unit": staged})
    shown = paths(case)
    assert "unit.stage_coil" in shown
    assert "unit.minimum_capacity" not in shown


def test_a_purchased_source_prints_no_controls_of_a_condenser(study):
    changed = differences(study, "I-P")
    names = {item.name for item in changed["electric"] if item.table.startswith("reheat")}
    assert "efficiency" in names
    assert not names & {"valve_low", "purge", "circuits", "lockout_below", "rated_condensing"}
    names = {item.name for item in changed["condenser"] if item.table.startswith("reheat")}
    assert {"valve_low", "lockout_below"} <= names
    assert "rated_condensing" not in names


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("outdoor_air_unit.reset_from", "45 degF"),
        ("outdoor_air_unit.dew_point_reset_from", "50 degF"),
        ("outdoor_air_unit.least_temperature", "58 degF"),
        ("air.reset_from", "45 degF"),
        ("prices.demand_ratchet_months", "Jun-Sep"),
    ],
)
def test_what_is_left_out_is_refused_where_it_is_written(path, value):
    """Nothing reads it: the case itself says so."""
    case = bundled_case("school-outdoor-air").with_values(
        {f"options.{key}.outdoor_air_unit": None for key in ("by-need", "cool")}
    )
    assert path not in paths(case)
    with pytest.raises(InputError, match=path.rpartition(".")[2]):
        case.with_values({path: value}).option_cases()
