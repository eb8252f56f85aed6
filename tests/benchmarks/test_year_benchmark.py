"""The compiled year against two references in plain Python: equality, and speed.

plain_loop.py runs the program's own steps uncompiled over psychrolib; nested_roots.py states the
equations again, on its own, with scipy's roots nested in each other. Speeds are processor times.
"""

import json
import math
import pickle
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from former_premises import former_text, on_former_premises

from dewledger.assembly.machine import assemble
from dewledger.case.files import case_from_text
from dewledger.hourly.ledger import INDEX, NAMES, empty_ledger
from dewledger.hourly.types import DRIVERS
from dewledger.hourly.year import solve_year
from dewledger.study import read_weather, solve_option

HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def frozen_machines():
    """Options of a case of its own, on the premises that every measurement so far was made with."""
    case = case_from_text(on_former_premises(former_text("music-school")))
    year = read_weather(case)
    return {option.key: assemble(option, year) for option in case.option_cases()}


def plain_loop(machine, drivers, folder):
    """Ledger and seconds of the uncompiled loop over some hours."""
    source, target = folder / "machine.pkl", folder / "ledger.npy"
    with source.open("wb") as file:
        pickle.dump(
            (machine.unit.map, machine.plant, machine.room, machine.control,
             machine.sources, drivers, 0),
            file,
        )  # fmt: skip
    said = subprocess.run(
        [sys.executable, str(HERE / "plain_loop.py"), str(source), str(target)],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    return np.load(target), float(said.stdout.split()[-1])


def nested_roots(machine, before, hours, folder):
    """Columns and seconds of the nested roots for some hours, each from the room before it."""
    unit, plant, room = machine.unit.map, machine.plant, machine.room
    case = {
        "unit": {
            "suction_first_C": unit.suction_first_C,
            "suction_step_K": unit.suction_step_K,
            "condensing_first_C": unit.condensing_first_C,
            "condensing_step_K": unit.condensing_step_K,
            "cooling_W": unit.cooling_W.tolist(),
            "compressor_W": unit.compressor_W.tolist(),
            "surface_resistance_K_W": unit.surface_resistance_K_W,
            "surface_floor_C": unit.surface_floor_C,
            "conductance": unit.condenser_conductance_W_K,
        },
        "flow": plant.flow_kg_s,
        "fan": plant.fan_W,
        "bypass": math.exp(-unit.bypass_area_kg_s / plant.flow_kg_s),
        "degradation": plant.degradation,
        "floor": plant.condensing_floor_C,
        "ceiling": plant.condensing_ceiling_C,
        "effectiveness": plant.recovery_effectiveness,
        "recovery_capacity": plant.recovery_capacity_W,
        "condenser_fan": unit.condenser_fan_W,
        "heat_store": room.heat_store_J_K,
        "moisture_store": room.moisture_store_kg,
        "conductance": room.conductance_W_K,
        "infiltration": room.infiltration_kg_s,
    }
    names = {
        "outdoor": "outdoor_temp_C",
        "w_outdoor": "outdoor_hum_ratio_kg_kg",
        "pressure": "pressure_Pa",
        "gains": "gains_sensible_W",
        "moisture": "gains_moisture_kg_s",
        "outdoor_air": "outdoor_air_kg_s",
        "cooling_setpoint": "cooling_setpoint_C",
        "heating_setpoint": "heating_setpoint_C",
        "limit": "humidity_limit",
    }
    listed = []
    for hour in hours:
        row = {ours: machine.drivers[hour, DRIVERS.index(name)] for ours, name in names.items()}
        row["temp_before"] = before[INDEX["room_temp_C"], hour - 1]
        row["w_before"] = before[INDEX["room_hum_ratio_kg_kg"], hour - 1]
        listed.append(row)
    source, target = folder / "hours.json", folder / "solved.json"
    source.write_text(json.dumps({"case": case, "hours": listed}))
    subprocess.run(
        [sys.executable, str(HERE / "nested_roots.py"), str(source), str(target)], check=True
    )
    solved = json.loads(target.read_text())
    return solved["hours"], solved["seconds"]


def with_settings(machine, **changes):
    """The machine with other controls, or with its gains and outdoor air scaled."""
    from dataclasses import replace

    scale = changes.pop("loads", 1.0)
    if "condensing_floor_C" in changes:
        # In hours with reheat too.
        source = machine.plant.condenser_source._replace(floor_C=changes["condensing_floor_C"])
        changes["condenser_source"] = source
    drivers = machine.drivers.copy()
    for name in ("gains_sensible_W", "gains_moisture_kg_s", "outdoor_air_kg_s"):
        drivers[:, DRIVERS.index(name)] *= scale
    return replace(machine, plant=machine.plant._replace(**changes), drivers=drivers)


@pytest.mark.parametrize("option", ["condenser-trim", "gas"])
@pytest.mark.parametrize("premises", ["own", "frozen"])
def test_compiled_equals_plain_loop(demo_machines, frozen_machines, tmp_path, option, premises):
    """Every column of 240 hours in May and June within 1e-6 of its largest value."""
    machine = (demo_machines[1] if premises == "own" else frozen_machines)[option]
    drivers = np.ascontiguousarray(machine.drivers[3400:3640])
    plain, _ = plain_loop(machine, drivers, tmp_path)
    fast = empty_ledger(240)
    solve_year(
        machine.unit.map, machine.plant, machine.room, machine.control, machine.sources, drivers,
        0, fast,
    )  # fmt: skip
    for name in NAMES:
        a, b = fast[INDEX[name]], plain[INDEX[name]]
        assert (np.isnan(a) == np.isnan(b)).all(), name
        if name.endswith(("_closure_W", "_closure_kg_h")):
            continue  # rounding only
        scale = max(float(np.nanmax(np.abs(b), initial=0.0)), 1e-3)
        assert np.nan_to_num(a) == pytest.approx(np.nan_to_num(b), abs=1e-6 * scale), name
    assert fast[INDEX["overcooling_heat_kWh"]].sum() > 1.0


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"recovery_effectiveness": 0.12, "condensing_ceiling_C": 40.0},
        {"loads": 2.5},
        {"condensing_floor_C": 20.0},
    ],
    ids=["demo", "reheat runs short", "beyond the unit", "low floor"],
)
def test_compiled_equals_nested_roots(frozen_machines, tmp_path, changes):
    """A sample of the year's hours, each column within 1e-6; heats within 1e-6 of the coil's."""
    machine = with_settings(frozen_machines["condenser"], **changes)
    ledger = solve_option(machine)
    hours = range(5, 8760, 97)
    solved, _ = nested_roots(machine, ledger, hours, tmp_path)
    for hour, columns in zip(hours, solved, strict=True):
        heat = max(float(ledger[INDEX["cooling_total_kWh"], hour]), 1e-3)
        for name, value in columns.items():
            got = ledger[INDEX[name], hour]
            scale = heat if name.endswith("_kWh") else max(abs(got), 1e-3)
            assert value == pytest.approx(got, abs=1e-6 * scale), (name, hour)
    if "recovery_effectiveness" in changes:
        assert ledger[INDEX["reheat_short_flag"]].sum() > 100
    if "loads" in changes:
        assert ledger[INDEX["full_capacity_flag"]].sum() > 100


def cpu_seconds(machine):
    """Processor time of one option-year: a busy machine does not count."""
    start = time.process_time()
    solve_option(machine, 0)
    return time.process_time() - start


@pytest.mark.benchmark
def test_one_option_year(benchmark, demo_machines, tmp_path):
    """One option-year compiled; both references timed on every 29th day or hour of it."""
    machine = demo_machines[1]["condenser"]
    ledger = solve_option(machine)
    benchmark.pedantic(solve_option, args=(machine, 0), rounds=20, iterations=1, warmup_rounds=2)
    compiled = min(cpu_seconds(machine) for _ in range(20))
    # Twelve spells of 48 h, spread over the year.
    spells = np.concatenate([np.arange(a, a + 48) for a in range(360, 8760, 730)])
    _, seconds = plain_loop(machine, np.ascontiguousarray(machine.drivers[spells]), tmp_path)
    plain = seconds / len(spells) * 8760
    hours = range(5, 8760, 29)
    _, seconds = nested_roots(machine, ledger, hours, tmp_path)
    nested = seconds / len(hours) * 8760
    benchmark.extra_info |= {
        "option_year_ms": round(1000 * compiled, 2),
        "times_faster_than_plain_loop": round(plain / compiled),
        "times_faster_than_nested_roots": round(nested / compiled),
    }
    print(benchmark.extra_info)


@pytest.mark.benchmark
def test_help_of_the_command(benchmark):
    """``dewledger --help`` in a fresh process."""
    benchmark.pedantic(
        lambda: subprocess.run(
            [sys.executable, "-m", "dewledger", "--help"],
            check=True, capture_output=True,
        ),
        rounds=5,
    )  # fmt: skip
