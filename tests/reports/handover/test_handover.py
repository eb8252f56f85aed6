"""What a designer hands on: every control has its sentence, commissioning equals the unit."""

from dataclasses import replace

import numpy as np
import pytest
from pydantic import BaseModel

from dewledger.accounts.energy import column
from dewledger.case import bundled_case
from dewledger.dx_unit.cycle import cycle_at
from dewledger.quantities import Measured, parse
from dewledger.reports.handover.commissioning import start_up_table
from dewledger.reports.handover.section import handover_of
from dewledger.reports.handover.sequence import GROUPS, sentence, sequence, tables_of
from dewledger.views.design_hours import DESIGN, design_check, design_hour
from dewledger.views.unit import view_unit

CLAUSES = [clause for _, clauses in GROUPS for clause in clauses]


def other(clause, value):
    """Another value of the same key."""
    if not isinstance(clause.text, str):
        return next(each for each in clause.text if each != value)
    if clause.key.startswith("limit"):
        return "51 %" if value != "51 %" else "49 %"
    if isinstance(value, Measured):
        # A time is said in minutes or hours, a flow for each ton in whole cfm.
        step = {"time": 600.0, "air flow per capacity": 1e-5}.get(value.kind.name, 1.0)
        number = (
            0.37 * float(value) + 0.05 if value.kind.name == "fraction" else float(value) + step
        )
        return parse(f"{number} {_unit(value)}".strip(), value.kind.name)
    if isinstance(value, tuple):
        return (*value, value[0])
    return f"other {value}"


def _unit(value):
    return {
        "temperature": "degC", "air flow": "m3/s", "time": "s", "heat flow": "W",
        "fraction": "", "moisture flow": "kg/s", "number": "",
        "air flow per capacity": "m3/s/W",
    }[value.kind.name]  # fmt: skip


def changed(tables, clause, value):
    """The tables with one key changed, unchecked."""
    first, _, inner = clause.table.partition(".")
    table = tables[first]
    if inner:
        part = getattr(table, inner).model_copy(update={clause.key: value})
        table = BaseModel.model_copy(table, update={inner: part})
    else:
        table = BaseModel.model_copy(table, update={clause.key: value})
    return {**tables, first: table}


def cases():
    for kind in ("music-school", "classroom", "clinic", "museum-store", "archive", "rooftop"):
        for option in bundled_case(kind).option_cases():
            yield tables_of(option.case)


def test_changing_any_control_changes_its_sentence():
    seen = set()
    for tables in cases():
        for clause in CLAUSES:
            before = sentence(clause, tables, "I-P")
            if not before or before == clause.absent or (clause.table, clause.key) in seen:
                continue
            first, _, inner = clause.table.partition(".")
            table = getattr(tables[first], inner) if inner else tables[first]
            value = other(clause, getattr(table, clause.key))
            after = sequence(changed(tables, clause, value), "I-P")
            assert sentence(clause, changed(tables, clause, value), "I-P") != before, clause
            assert after != sequence(tables, "I-P"), clause
            seen.add((clause.table, clause.key))
    assert len(seen) > 35, len(seen)


def test_every_control_key_of_the_case_has_a_sentence():
    """Keys that say how something is run; what says how large or how good it is has none."""
    reported = {(clause.table, clause.key) for clause in CLAUSES}
    controls = {
        "schedule": None,
        "humidity": ("control", "limit", "limit_unoccupied", "differential", "priority"),
        "air.economizer": None,
        "outdoor_air_unit": None,
    }
    size = {"room_cooling_efficiency", "room_sensible_heat_ratio", "room_cooling_capacity"}
    tables = {}
    for found in cases():
        for name in controls:
            first, _, inner = name.partition(".")
            table = getattr(found[first], inner) if inner else found[first]
            if table is not None:
                tables.setdefault(name, type(table))
    for name, keys in controls.items():
        if name in tables:
            for key in keys or tables[name].model_fields:
                if key not in size:
                    assert (name, key) in reported, (name, key)


def sheet_of(study, option, display):
    """The commissioning sheet of an option, in a display's outdoor conditions."""
    case = study.case.with_values({"display": display})
    return handover_of(replace(study, case=case)).sheets[option.key]


@pytest.mark.parametrize("display", ["I-P", "SI"])
def test_commissioning_is_what_the_unit_command_shows(study, display):
    option = next(o for o in study.options if o.key == "condenser")
    view = view_unit(study.case, option.option, study.weather, display)
    sheet = sheet_of(study, option, display)
    assert len(sheet.conditions) == 3
    for start in sheet.conditions:
        one = start.at
        column_at = int(np.argmin(np.abs(np.array(view.map.outdoor_C) - one.outdoor_C)))
        same = view.map.full[1][column_at]
        for name in ("outdoor_C", "leaving_C", "condensing_C", "suction_C", "reheated_C",
                     "reheat_condensing_C", "total_W", "compressor_W"):  # fmt: skip
            assert getattr(one, name) == pytest.approx(getattr(same, name), rel=1e-6), name
        for cycle, suction, condensing in (
            (start.cooling, one.suction_C, one.condensing_C),
            (start.reheat, one.reheat_suction_C, one.reheat_condensing_C),
        ):
            assert cycle == cycle_at(option.machine.unit, suction, condensing)
    table = start_up_table(option, sheet, display)
    assert all(len(row.cells) == 4 for row in table.rows)


def test_saturation_pressures_of_commissioning(study):
    """Against CoolProp itself: R-454B at its dew point, above 101.325 kPa."""
    from CoolProp.CoolProp import PropsSI

    option = next(o for o in study.options if o.key == "condenser")
    sheet = sheet_of(study, option, "SI")
    at = sheet.conditions[0].at
    table = start_up_table(option, sheet, "SI")
    row = next(row for row in table.rows if row.head == "Cooling: suction pressure")
    gauge = (PropsSI("P", "T", at.suction_C + 273.15, "Q", 1, "R454B.mix") - 101325.0) / 1000.0
    assert float(row.cells[0].text) == pytest.approx(gauge, abs=0.6)


def test_design_hours_are_those_of_the_years_own_distribution(study):
    """0.4 % of 8760 hours are 35: the value that 35 hours exceed, counted here by sorting."""
    option = study.reference
    dew = study.weather.frame["temp_dew_C"].to_numpy()
    dry = study.weather.frame["temp_air_C"].to_numpy()
    for what, values in (("dew-point", dew), ("dry-bulb", dry)):
        hour = design_hour(option.machine, study.weather, what)
        assert (values > values[hour]).sum() <= 35 <= (values >= values[hour]).sum()
    part = design_hour(option.machine, study.weather, "part-load")
    assert dry[part] <= float(option.option.case.room.cooling_setpoint) + 1e-9


def test_design_check_says_what_is_short(study):
    option = study.reference
    hour = design_hour(option.machine, study.weather, "dew-point")
    ledger = option.ledger.copy()
    found = design_check(ledger, option.machine, study.weather, "dew-point")
    assert found.hour == hour
    assert set(DESIGN) == {"dew-point", "dry-bulb", "part-load"}
    column(ledger, "room_temp_C")[hour] += 3.0
    warm = design_check(ledger, option.machine, study.weather, "dew-point")
    assert not warm.met
    assert warm.temp_short_K > 2.0
    assert replace(found, temp_short_K=0.0, humidity_short=None, reheat_short_W=0.0).met


def test_controls_of_condenser_heat_are_said_where_they_do_something():
    case = bundled_case("music-school")
    source = {"source": "condenser", "purge": "3 min", "circuits": "50 %", "valve_low": "10 %"}
    case = case.with_values({"options.condenser.reheat": [source]})
    option = next(one for one in case.option_cases() if one.key == "condenser")
    text = " ".join(" ".join(lines) for _, lines in sequence(tables_of(option.case), "I-P"))
    assert "Pump-out takes 3 min of each hour with reheat." in text
    assert "50.0 % of the circuits have reheat." in text
    assert "passes at least 10.0 % of the heat rejected" in text
    assert "locked out below 40 °F outdoors" in text
    assert "passes at most" not in text
    assert "0 h before occupied" not in text


def test_a_reset_that_is_not_stated_is_not_said():
    option = bundled_case("clinic").option_cases()[1]
    text = " ".join(" ".join(lines) for _, lines in sequence(tables_of(option.case), "I-P"))
    for words in ("reset", "never colder", "In a dehumidification call"):
        assert words not in text
