"""A unit at stated conditions, without a room: what is asked and answered in rows of floats.

The program of the year serves it too (``solve_rows``): a program of its own would take some seconds
to compile. Rows hold the fields of AirIn and of Task, then the surface and the condensing
temperature [C] where the search starts; answers the fields of Operation. Source: the balances of
``operate``.
"""

from __future__ import annotations

from dewledger.dx_unit.operate import operate
from dewledger.dx_unit.types import AirIn, Operation, Plant, Task, UnitMap
from dewledger.weather.numerics.compiled import compiled
from dewledger.weather.physics.moist_air import FloatArray

ASKED = (*AirIn._fields, *Task._fields, "start_surface_C", "start_condensing_C")
ANSWERED = Operation._fields


@compiled
def run_unit(unit: UnitMap, plant: Plant, asked: FloatArray, out: FloatArray) -> None:
    """Run a unit at each of the conditions.

    Parameters
    ----------
    asked : (conditions, len(ASKED)) in the units of the fields [C, kg/kg, Pa, kg/s, W]
    out : (len(ANSWERED), conditions), written
    """
    for i in range(asked.shape[0]):
        air = AirIn(
            asked[i, 0], asked[i, 1], asked[i, 2], asked[i, 3], asked[i, 4], asked[i, 5]
        )  # fmt: skip
        task = Task(
            int(asked[i, 6]), asked[i, 7], asked[i, 8], asked[i, 9], asked[i, 10],
            int(asked[i, 11]), int(asked[i, 12]), int(asked[i, 13]),
        )  # fmt: skip
        found = operate(unit, plant, air, task, asked[i, 14], asked[i, 15])
        out[0, i] = found.runtime
        out[1, i] = found.part_load
        out[2, i] = found.fraction
        out[3, i] = found.total_W
        out[4, i] = found.sensible_W
        out[5, i] = found.removal_kg_s
        out[6, i] = found.compressor_W
        out[7, i] = found.condenser_fan_W
        out[8, i] = found.condensing_C
        out[9, i] = found.surface_C
        out[10, i] = found.suction_C
        out[11, i] = found.on_temp_C
        out[12, i] = found.on_hum_ratio
        out[13, i] = found.recovered_W
        out[14, i] = found.available_W
        out[15, i] = found.outdoor_coil_W
        out[16, i] = found.precool_W
        out[17, i] = found.swing_W
        out[18, i] = found.limited
        out[19, i] = found.floor_hit
        out[20, i] = found.gap_K
        out[21, i] = found.start_surface_C
        out[22, i] = found.bound
