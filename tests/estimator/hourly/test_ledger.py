"""The ledger's table of columns, and the accounts made of it, by hand."""

from dataclasses import replace

import numpy as np
import pytest

from dewledger.accounts.energy import CAUSES, SUMMED, account, column, hour_label, monthly_account
from dewledger.hourly.ledger import COLUMNS, INDEX, NAMES
from dewledger.study import solve_option

UNITS = {
    "_kWh": "kWh",
    "_kg": "kg",
    "_W": "W",
    "_C": "C",
    "_K": "K",
    "_frac": "-",
    "_flag": "0/1",
    "_kg_s": "kg/s",
    "_kg_h": "kg/h",
    "_kg_kg": "kg/kg",
}


@pytest.fixture(scope="module")
def solved(demo_machines):
    year, machines = demo_machines
    return year, machines, {key: solve_option(machine) for key, machine in machines.items()}


def test_names_end_in_their_unit():
    for one in COLUMNS:
        ending = max((e for e in UNITS if one.name.endswith(e)), key=len)
        assert one.unit == UNITS[ending], one.name


def test_table_is_whole():
    assert len(set(NAMES)) == len(NAMES)
    assert [NAMES[INDEX[name]] for name in NAMES] == list(NAMES)
    for one in COLUMNS:
        assert one.definition.endswith(".")
        assert one.total in ("sum", "mean", "none")
        # What flows is summed; what stands is not.
        if one.unit in ("kWh", "kg", "0/1"):
            assert one.total == "sum", one.name
        else:
            assert one.total != "sum", one.name


def test_ledger_fills_every_column(solved):
    """Empty cells only where the table says so: what holds while the compressor or fan runs."""
    _, _, ledgers = solved
    for ledger in ledgers.values():
        running = column(ledger, "compressor_runtime_frac") > 0.0
        for one in COLUMNS:
            values = column(ledger, one.name)
            empty = np.isnan(values)
            if not empty.any():
                continue
            assert one.total == "none" or one.name.startswith(("mixed", "supply")), one.name
            assert not empty[running].any(), one.name


def test_identity_of_every_total(solved):
    """Overcooling = recovered + purchased + unmet, by hour, month and year."""
    year, machines, ledgers = solved
    for key, ledger in ledgers.items():
        parts = [column(ledger, f"reheat_{p}_kWh") for p in ("recovered", "purchased", "unmet")]
        assert column(ledger, "overcooling_heat_kWh") == pytest.approx(
            sum(parts), rel=1e-12, abs=1e-12
        )
        annual = account(ledger, machines[key], machines["electric"], year)
        monthly = monthly_account(ledger, year)
        assert annual["overcooling_heat_kWh"] == pytest.approx(
            annual["reheat_recovered_kWh"]
            + annual["reheat_purchased_kWh"]
            + annual["reheat_unmet_kWh"]
        )
        for name in SUMMED:
            assert monthly[name].sum() == pytest.approx(annual[name], rel=1e-9, abs=1e-9), name


def test_annual_balances_close(solved):
    """Heat and water into the room over the year equal what the unit took and the room stored.

    Room heat: gains + envelope + fan + reheat + heating + ventilation - sensible - stored = 0, but
    for the moisture that outdoor air and supply air carry at their own heat capacity (below 1 %).
    """
    _, _, ledgers = solved
    for ledger in ledgers.values():
        total = {name: column(ledger, name).sum() for name in SUMMED}
        water = (
            total["gains_moisture_kg"]
            + total["outdoor_moisture_kg"]
            - total["condensate_kg"]
            - total["moisture_stored_kg"]
        )
        assert abs(water) < 1e-6 * total["outdoor_moisture_kg"] + 1e-6
        heat = (
            total["gains_sensible_kWh"]
            + total["envelope_kWh"]
            + total["ventilation_sensible_kWh"]
            + total["supply_fan_kWh"]
            + total["reheat_coil_fan_kWh"]
            + total["heating_kWh"]
            + total["reheat_recovered_kWh"]
            + total["reheat_purchased_kWh"]
            - total["cooling_sensible_kWh"]
            - total["heat_stored_kWh"]
        )
        assert abs(heat) < 1e-6 * total["cooling_sensible_kWh"]


def test_every_hour_above_range_has_one_cause(solved):
    year, machines, ledgers = solved
    for key, ledger in ledgers.items():
        annual = account(ledger, machines[key], machines["electric"], year)
        by_cause = annual["hours_above_by_cause"]
        assert set(by_cause) <= set(CAUSES)
        assert sum(by_cause.values()) == annual["hours_above_range"]
        assert annual["hours_above_range_occupied"] <= annual["hours_above_range"]


def test_peaks_by_hand(solved):
    year, machines, ledgers = solved
    ledger = ledgers["electric"]
    annual = account(ledger, machines["electric"], machines["electric"], year)
    values = column(ledger, "reheat_purchased_kWh")
    hour = int(values.argmax())
    assert annual["peak_new_energy_kW"] == values.max()
    assert annual["peak_new_energy_hour"] == hour_label(year, hour)
    assert annual["peak_recovered_hour"] is None
    assert hour_label(year, 0) == "Jan 1 00:00"
    assert hour_label(year, 8759) == "Dec 31 23:00"


def test_recovered_share_and_avoided_energy_by_hand(solved):
    """Avoided energy: what the reference's source would have purchased for the recovered heat."""
    year, machines, ledgers = solved
    against_gas = account(ledgers["condenser"], machines["condenser"], machines["gas"], year)
    recovered = against_gas["reheat_recovered_kWh"]
    assert against_gas["recovered_share"] == 1.0
    assert against_gas["avoided_new_energy_kWh"] == pytest.approx(recovered / 0.8)
    assert against_gas["avoided_gas_kWh"] == pytest.approx(recovered / 0.8)
    assert against_gas["avoided_electricity_kWh"] == 0.0
    against_electric = account(
        ledgers["condenser"], machines["condenser"], machines["electric"], year
    )
    assert against_electric["avoided_electricity_kWh"] == pytest.approx(recovered)
    none = account(ledgers["none"], machines["none"], machines["electric"], year)
    assert none["recovered_share"] is None


def test_hours_at_the_minimum_condensing_temperature_in_reheat_by_hand(solved):
    year, machines, ledgers = solved
    machine, ledger = machines["condenser"], ledgers["condenser"]
    floor_C = max(machine.plant.condensing_floor_C, machine.plant.condenser_source.floor_C)
    given = column(ledger, "reheat_recovered_kWh") > 0.0
    held = [
        hour
        for hour in np.flatnonzero(given)
        if abs(column(ledger, "condensing_temp_C")[hour] - floor_C) < 1e-3
    ]
    annual = account(ledger, machine, machines["electric"], year)
    assert annual["hours_at_reheat_floor"] == len(held) > 0
    electric = account(ledgers["electric"], machines["electric"], machines["electric"], year)
    assert electric["hours_at_reheat_floor"] == 0


def test_hours_in_which_a_control_binds_by_hand(solved):
    """Each call that cycles counts once: by the differential, or by a least run that allows fewer
    starts than it: 900 s over the least run an hour (thermostat law N = 4 Nmax X (1 - X))."""
    year, machines, ledgers = solved
    machine, ledger = machines["electric"], ledgers["electric"]
    annual = account(ledger, machine, machine, year)
    running = column(ledger, "compressor_runtime_frac") > 0.0
    condensing = column(ledger, "condensing_temp_C")[running]
    at_floor = np.abs(condensing - machine.plant.condensing_floor_C) < 1e-3
    assert annual["hours_at_condensing_floor"] == at_floor.sum() > 0
    wet = machine.plant._replace(
        wet_time_s=1060.0, humidistat=machine.plant.humidistat._replace(band_kg=1e9)
    )
    counted = account(ledger, replace(machine, plant=wet), machine, year)
    call = (column(ledger, "moisture_call_flag") > 0.0) & running
    part = call & (column(ledger, "compressor_runtime_frac") < 1.0 - 1e-6)
    assert counted["hours_cycled_by_differential"] == part.sum() > 0
    assert counted["hours_cycled_by_least_run"] == 0
    often = wet._replace(humidistat=wet.humidistat._replace(band_kg=1e-9, most_per_hour=3.0))
    counted = account(ledger, replace(machine, plant=often), machine, year)
    assert counted["hours_cycled_by_least_run"] == part.sum()
    assert counted["hours_cycled_by_differential"] == 0
