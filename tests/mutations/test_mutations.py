"""Faults put into the physics, each with the test that must see it: ``pytest -n 0 -m mutation``.

Each fault is made in a copy of the package, which the named test then runs on as plain Python.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).parents[2]
# psychrolib compiles itself where it can import numba: it is imported without, as in plain_loop.py.
PLAIN = (
    "import sys; kept = __import__('numba'); sys.modules['numba'] = None; import psychrolib; "
    "sys.modules['numba'] = kept; import pytest; sys.exit(pytest.main(sys.argv[1:]))"
)


class Mutation(NamedTuple):
    """In ``file``, the text ``old`` (it is in place once) becomes ``new``: ``test`` must fail."""

    file: str
    old: str
    new: str
    test: str


HOURLY = "tests/estimator/hourly/"
MUTATIONS = {
    "recovered without bound": Mutation(
        "estimator/dx_unit/condenser.py",
        "valve = min(coil, source.valve_high * source.circuits * rejected_W)",
        "valve = coil",
        HOURLY + "test_bounds.py::test_no_more_is_recovered_than_rejected",
    ),
    "outdoor coil without start-up": Mutation(
        "estimator/dx_unit/condenser.py",
        "runtime * conductance_W_K * (condensing_C - outdoor_C) - start_up_W",
        "runtime * conductance_W_K * (condensing_C - outdoor_C)",
        HOURLY + "test_bounds.py::test_refrigerant_closes_with_start_up",
    ),
    "condensing temperature of half the heat": Mutation(
        "estimator/dx_unit/condenser.py",
        "by_outdoors = air.outdoor_C + (shared.reject_on_W - given.heat_W) / conductance",
        "by_outdoors = air.outdoor_C + 0.5 * (shared.reject_on_W - given.heat_W) / conductance",
        HOURLY + "test_bounds.py::test_outdoor_coil_by_conductance_and_temperatures",
    ),
    "outdoor fan by the square": Mutation(
        "estimator/dx_unit/condenser.py",
        "return share * share * share",
        "return share * share",
        HOURLY + "test_bounds.py::test_fan_power_at_two_speeds",
    ),
    "supply fan by the square": Mutation(
        "estimator/components/supply_fan.py",
        "(1.0 - set_pressure_share) * share * share)",
        "(1.0 - set_pressure_share) * share)",
        HOURLY + "test_bounds.py::test_fan_power_at_two_speeds",
    ),
    "supply air without latent heat": Mutation(
        "estimator/hourly/single_zone_unit.py",
        "balance.fan.power_W - operation.total_W + given",
        "balance.fan.power_W - operation.sensible_W + given",
        HOURLY + "test_hour.py::test_constant_year_is_one_hand_computed_hour",
    ),
    "auxiliaries all hour": Mutation(
        "estimator/hourly/reheat.py",
        "electricity += source.auxiliary_W * serving",
        "electricity += source.auxiliary_W",
        HOURLY + "test_bounds.py::test_auxiliaries_of_condenser_heat_run_with_the_compressor",
    ),
    "gas times efficiency": Mutation(
        "estimator/hourly/reheat.py",
        "gas += given / source.efficiency",
        "gas += given * source.efficiency",
        HOURLY + "test_hour.py::test_gas_and_auxiliary_power",
    ),
    "condensation without heat": Mutation(
        "estimator/hourly/room_balance.py",
        "beyond * vapor_kg_s * vapor_enthalpy(temp_C)",
        "0.0",
        HOURLY + "test_hour.py::test_saturated_room_by_hand",
    ),
    "heating as reheat": Mutation(
        "estimator/hourly/outdoor_air_unit.py",
        "cooling = max(needed, 0.0)",
        "cooling = needed",
        HOURLY
        + "test_bounds.py::test_an_outdoor_air_unit_heats_cold_damp_air_and_reheats_what_it_cooled",
    ),
    "heating beyond its size": Mutation(
        "estimator/hourly/sensible_control.py",
        "heating = min(max(needed, 0.0), control.heating_capacity_W)",
        "heating = max(needed, 0.0)",
        HOURLY + "test_bounds.py::test_stated_heating_binds_and_is_counted",
    ),
    "recovery of sensible heat left out": Mutation(
        "estimator/hourly/room_balance.py",
        "* (1.0 - balance.ventilation.sensible)",
        "* 1.0",
        "tests/estimator/components/test_ventilation.py::test_recovery_at_the_conditions_of_ahri_1060",
    ),
    "humidity ratio over the whole pressure": Mutation(
        "weather/physics/moist_air.py",
        "0.621945 * vapor_pressure / (pressure - vapor_pressure)",
        "0.621945 * vapor_pressure / pressure",
        HOURLY + "test_hour.py::test_constant_year_is_one_hand_computed_hour",
    ),
    "all air touches the coil": Mutation(
        "estimator/dx_unit/steady_state.py",
        "w_out = w_surface + bypass * (hum_ratio_in - w_surface)\n    temp_out",
        "w_out = w_surface\n    temp_out",
        "tests/estimator/dx_unit/test_unit.py::test_rating_point_is_met_exactly",
    ),
    "the mean of the mass for its end": Mutation(
        "estimator/components/envelope.py",
        "return 2.0 * mass - mass_before_C, mass, surface",
        "return mass, mass, surface",
        "tests/published/test_envelope_published.py::test_one_step",
    ),
    "no start-up loss": Mutation(
        "estimator/dx_unit/part_load.py",
        "part_load * (1.0 + plant.start_loss * idle) / (1.0 - plant.degradation * idle)",
        "part_load",
        HOURLY + "test_hour.py::test_constant_year_is_one_hand_computed_hour",
    ),
    "a search without secants": Mutation(
        "estimator/dx_unit/reheat_arrangements.py",
        "_SECANT_STEPS = 20",
        "_SECANT_STEPS = 0",
        HOURLY + "test_effort.py::test_evaluations_of_the_worst_days",
    ),
    "a search that goes on for digits nobody has": Mutation(
        "estimator/hourly/dehumidification.py",
        "_EDGE = 1e-8",
        "_EDGE = 1e-15",
        HOURLY + "test_effort.py::test_evaluations_of_the_worst_days",
    ),
}


def copied(folder: Path) -> None:
    """The package, as one folder named dewledger."""
    shutil.copytree(ROOT / "estimator", folder / "dewledger")
    for name in ("weather", "reports"):
        shutil.copytree(ROOT / name, folder / "dewledger" / name)


def mutated(folder: Path, mutation: Mutation) -> None:
    """The package with the fault."""
    copied(folder)
    room, _, rest = mutation.file.partition("/")
    place = folder / "dewledger" / (rest if room == "estimator" else mutation.file)
    text = place.read_text()
    assert text.count(mutation.old) == 1
    place.write_text(text.replace(mutation.old, mutation.new))


def run(folder: Path, *tests: str) -> subprocess.CompletedProcess[str]:
    """The test on the package in ``folder``, as plain Python."""
    paths = {"PYTHONPATH": str(folder), "NUMBA_DISABLE_JIT": "1"}
    return subprocess.run(
        [sys.executable, "-c", PLAIN, "-q", "-x", "-n", "0", "-p", "no:cacheprovider", *tests],
        cwd=ROOT, env=os.environ | paths, capture_output=True, text=True, check=False,
    )  # fmt: skip


@pytest.mark.mutation
@pytest.mark.parametrize("name", MUTATIONS)
def test_a_test_sees_the_fault(tmp_path, name):
    mutation = MUTATIONS[name]
    mutated(tmp_path, mutation)
    said = run(tmp_path, mutation.test)
    assert said.returncode == 1, said.stdout[-2000:] + said.stderr[-2000:]
    failed = [line for line in said.stdout.splitlines() if line.startswith("FAILED")]
    print(name, "is seen by", *failed)
    assert failed


@pytest.mark.mutation
def test_the_named_tests_pass_without_a_fault(tmp_path):
    copied(tmp_path)
    said = run(tmp_path, *{mutation.test for mutation in MUTATIONS.values()})
    assert said.returncode == 0, said.stdout[-2000:] + said.stderr[-2000:]


@pytest.mark.parametrize("name", MUTATIONS)
def test_every_fault_can_still_be_made(name):
    mutation = MUTATIONS[name]
    text = (ROOT / mutation.file).read_text()
    assert text.count(mutation.old) == 1
    assert (ROOT / mutation.test.partition("::")[0]).is_file()
