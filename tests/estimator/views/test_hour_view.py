"""The detail of one hour against its ledger and against physics done by hand."""

import numpy as np
import pytest

from dewledger.accounts.energy import column
from dewledger.hourly.ledger import INDEX
from dewledger.study import solve_option
from dewledger.views.hour import WORST, detail_at, hour_of, report_hour, stated_hour, worst_hour
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import enthalpy, hum_ratio_from_wet_bulb


@pytest.fixture(scope="module")
def solved(demo_machines):
    year, machines = demo_machines
    return year, {key: (machine, solve_option(machine)) for key, machine in machines.items()}


def points_of(detail):
    return {point.label: point for point in detail.points}


@pytest.mark.parametrize("key", ["none", "electric", "gas", "condenser", "condenser-trim"])
def test_states_and_heats_agree_with_the_ledger(solved, key):
    """Enthalpy differences along the path, times flow and time, are the ledger's heats."""
    year, options = solved
    machine, ledger = options[key]
    busy = np.flatnonzero(column(ledger, "compressor_runtime_frac") > 0.0)
    for hour in busy[:: max(busy.size // 60, 1)]:
        detail = detail_at(ledger, machine, year, int(hour), "SI")
        at = points_of(detail)
        flow = machine.plant.flow_kg_s
        runtime = column(ledger, "compressor_runtime_frac")[hour]
        fan = column(ledger, "fan_runtime_frac")[hour]
        # mixing keeps enthalpy
        outdoor, back, mixed = at["Outdoor"], at["Return"], at["Mixed"]
        assert flow * enthalpy(mixed.temp_C, mixed.hum_ratio) == pytest.approx(
            outdoor.flow_kg_s * enthalpy(outdoor.temp_C, outdoor.hum_ratio)
            + back.flow_kg_s * enthalpy(back.temp_C, back.hum_ratio),
            rel=1e-9,
        )
        before = at["Leaving coil"]
        if "After reheat" in at:
            after = at["After reheat"]
            assert after.hum_ratio == before.hum_ratio
            given = flow * (
                enthalpy(after.temp_C, after.hum_ratio) - enthalpy(before.temp_C, before.hum_ratio)
            )
            recovered = 1000.0 * column(ledger, "reheat_recovered_kWh")[hour]
            purchased = 1000.0 * column(ledger, "reheat_purchased_kWh")[hour]
            assert given == pytest.approx(recovered / runtime + purchased / fan, rel=1e-9, abs=1e-6)
            before = after
        blown = at["After fan"]
        assert flow * (
            enthalpy(blown.temp_C, blown.hum_ratio) - enthalpy(before.temp_C, before.hum_ratio)
        ) == pytest.approx(machine.plant.fan_W, rel=1e-9)
        # what the supply takes from the room is the room's own load: gains, envelope, storage
        load = (
            column(ledger, "gains_sensible_kWh")[hour]
            + column(ledger, "envelope_kWh")[hour]
            - column(ledger, "heat_stored_kWh")[hour]
        )
        assert detail.room_sensible_W == pytest.approx(1000.0 * load, rel=1e-6, abs=1e-3)


def test_overcooling_is_what_became_of_it(solved):
    year, options = solved
    machine, ledger = options["condenser-trim"]
    hour = worst_hour(ledger, machine, year, "reheat")
    heats = dict(detail_at(ledger, machine, year, hour, "I-P").heats)
    parts = sum(heats.get(name, 0.0) for name in heats if name.startswith("reheat: "))
    assert parts == pytest.approx(heats["overcooling heat (reheat load)"], rel=1e-9)


def test_rejected_heat_is_the_coils_and_the_compressors(solved):
    year, options = solved
    machine, ledger = options["condenser"]
    hour = worst_hour(ledger, machine, year, "reheat")
    detail = detail_at(ledger, machine, year, hour, "I-P")
    heats = dict(detail.heats)
    side = {name: value for name, value, _ in detail.refrigeration}
    assert side["heat rejected"] == pytest.approx(
        -heats["cooling coil, total"] + side["compressor power"]
    )
    assert side["of it to the reheat coil"] + side["of it outdoors"] == pytest.approx(
        side["heat rejected"]
    )


def test_worst_hours_are_the_worst(solved):
    year, options = solved
    machine, ledger = options["condenser"]
    assert (
        year.frame["temp_air_C"].iloc[worst_hour(ledger, machine, year, "dry-bulb")]
        == year.frame["temp_air_C"].max()
    )
    assert (
        year.frame["temp_dew_C"].iloc[worst_hour(ledger, machine, year, "dew-point")]
        == year.frame["temp_dew_C"].max()
    )
    hour = worst_hour(ledger, machine, year, "reheat")
    heat = column(ledger, "overcooling_heat_kWh")
    assert heat[hour] == heat.max()
    rh = column(ledger, "room_rh_frac")
    hour = worst_hour(ledger, machine, year, "out-of-range")
    assert max(rh[hour] - 0.55, 0.40 - rh[hour]) == pytest.approx(
        max(rh.max() - 0.55, 0.40 - rh.min())
    )
    assert set(WORST) == {"reheat", "dew-point", "dry-bulb", "out-of-range"}
    with pytest.raises(InputError, match="reheat"):
        worst_hour(ledger, machine, year, "coldest")


def test_a_room_that_never_overcools_nor_leaves_its_range_has_no_worst_hour(solved):
    year, options = solved
    machine, ledger = options["none"]
    assert worst_hour(ledger, machine, year, "reheat") is None
    calm = ledger.copy()
    calm[INDEX["room_rh_frac"]] = 0.5
    assert worst_hour(calm, machine, year, "out-of-range") is None


def test_a_stated_hour_is_steady(solved):
    """Held long enough, room and air no longer change: a day more gives the same."""
    year, options = solved
    machine, _ = options["condenser"]
    pressure = float(year.frame["pressure_Pa"].mean())
    ledger, held = stated_hour(machine, 35.0, 24.0, pressure, 1.0, 0.5)
    assert ledger[INDEX["outdoor_temp_C"], 0] == 35.0
    assert ledger[INDEX["outdoor_hum_ratio_kg_kg"], 0] == pytest.approx(
        hum_ratio_from_wet_bulb(35.0, 24.0, pressure)
    )
    assert abs(ledger[INDEX["heat_stored_kWh"], 0]) < 1e-3
    assert abs(ledger[INDEX["moisture_stored_kg"], 0]) < 1e-3
    detail = report_hour(ledger, held, 0, "stated", "SI")
    assert detail.when == "stated"
    assert ledger[INDEX["gains_moisture_kg"], 0] == pytest.approx(
        0.5 * 3600.0 * machine.drivers[:, 4].max()
    )


def test_stated_air_must_exist(solved):
    _, options = solved
    machine, _ = options["condenser"]
    with pytest.raises(InputError, match="above --outdoor"):
        stated_hour(machine, 20.0, 21.0, 1e5, 1.0, 1.0)
    with pytest.raises(InputError, match="no moisture"):
        stated_hour(machine, 45.0, 10.0, 1e5, 1.0, 1.0)


@pytest.mark.parametrize(
    ("text", "hour"),
    [("Jan 1 0:00", 0), ("january 1 01", 1), ("Dec 31 23:00", 8759), (" Mar 1 00:00 ", 59 * 24)],
)
def test_hours_by_their_date(demo_machines, text, hour):
    assert hour_of(demo_machines[0], text) == hour


@pytest.mark.parametrize("text", ["", "Jul", "Jul 32 1:00", "Foo 1 1:00", "Jul 15 25:00", "7/15"])
def test_dates_that_do_not_exist(demo_machines, text):
    with pytest.raises(InputError, match="Jul 15 16:00"):
        hour_of(demo_machines[0], text)


def test_an_hour_without_air_moving_has_two_states(demo_machines):
    """A unit that is off moves no air and decides nothing."""
    from dataclasses import replace

    from dewledger.hourly.types import DRIVERS, FAN_OFF

    year, machines = demo_machines
    drivers = machines["gas"].drivers.copy()
    drivers[:, DRIVERS.index("fan_mode")] = FAN_OFF
    machine = replace(machines["gas"], drivers=drivers)
    detail = detail_at(solve_option(machine), machine, year, 4000, "I-P")
    assert [point.label for point in detail.points] == ["Outdoor", "Room"]
    assert detail.decision.startswith("The schedule keeps the unit off.")
    assert detail.room_shr is None
    assert detail.refrigeration == ()


def test_a_blow_through_fan_stands_before_the_coil(demo_machines):
    from dataclasses import replace

    year, machines = demo_machines
    machine = machines["condenser"]
    machine = replace(machine, plant=machine.plant._replace(blow_through=1))
    ledger = solve_option(machine)
    hour = worst_hour(ledger, machine, year, "reheat")
    labels = [point.label for point in detail_at(ledger, machine, year, hour, "I-P").points]
    assert labels.index("After fan") == labels.index("Mixed") + 1
    assert labels.index("Leaving coil") == labels.index("After fan") + 1
