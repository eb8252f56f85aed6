"""The unit by itself: the program's rows against the same function in plain Python."""

import numpy as np
import pytest

from dewledger.dx_unit.operate import operate
from dewledger.dx_unit.types import FULL_CAPACITY, MATCH_REMOVAL, MATCH_SENSIBLE, AirIn, Task
from dewledger.hourly.unit_alone import ANSWERED, ASKED
from dewledger.hourly.year import operate_alone


def test_rows_are_asked_and_answered_in_the_order_of_their_names(demo_machines):
    machine = demo_machines[1]["condenser-trim"]
    flow = machine.plant.flow_kg_s
    airs = [AirIn(26.0, 0.011, 99_000.0, 30.0, flow, 4.0), AirIn(24.0, 0.010, 99_000.0, 20.0, flow)]
    tasks = [
        Task(FULL_CAPACITY, 1000.0, 0.0, 0.001, 0.0, 0, 0),
        Task(MATCH_SENSIBLE, 5000.0, 100.0, 0.0, 0.0, 1, 0),
        Task(MATCH_REMOVAL, 2000.0, 0.0, 0.001, 0.0001, 0, 1),
    ]
    conditions = [(*air, *task, 12.0, 40.0) for air in airs for task in tasks]
    assert len(conditions[0]) == len(ASKED)
    unit, plant, room, control, sources, _ = machine.of_year
    found = operate_alone(unit, plant, room, control, sources, np.array(conditions)).T
    one_by_one = [operate(unit, plant, air, task, 12.0, 40.0) for air in airs for task in tasks]
    assert one_by_one[0]._fields == ANSWERED
    for row, one in zip(found, one_by_one, strict=True):
        assert row == pytest.approx(np.array(one, dtype=float), rel=1e-7, abs=1e-7, nan_ok=True)
    assert found[:, ANSWERED.index("recovered_W")].max() > 0.0
