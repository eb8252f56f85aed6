"""Supply flow of an hour: constant, two-speed or variable, for a unit that serves one room.

Source: the fan laws; flow, pressure and power in [m3/s], [Pa] and [W].
"""

from __future__ import annotations

from typing import NamedTuple

from dewledger.weather.numerics.compiled import compiled

CONSTANT_FLOW = 0
TWO_SPEED = 1
VARIABLE_FLOW = 2


class FlowControl(NamedTuple):
    """How the supply flow follows the load; the default keeps it constant."""

    kind: int = 0  # CONSTANT_FLOW, TWO_SPEED or VARIABLE_FLOW
    minimum_share: float = 1.0
    set_pressure_share: float = 0.0  # pressure held at any flow over the full-flow pressure
    leaving_C: float = 12.8  # air off the coil that the flow is chosen for
    leaving_mild_C: float = 12.8  # the same at and below reset_low_C outdoors
    reset_low_C: float = 0.0
    reset_high_C: float = 1.0
    before_reheat: int = 0  # 1: in a dehumidification call the flow goes down before reheat is used


CONSTANT = FlowControl()


@compiled
def fan_power_share(share: float, set_pressure_share: float) -> float:
    """Fan power over full-flow power at a flow share.

    Fan laws with part of the pressure held fixed: pressure = s + (1 - s) share^2, power = flow x
    pressure at the same efficiency.

    A share [1]. Fan laws (ASHRAE Handbook - HVAC Systems and Equipment, fans; not checked against
    the text).
    """
    return share * (set_pressure_share + (1.0 - set_pressure_share) * share * share)


@compiled
def mean_fan_power_share(control: FlowControl, share: float) -> float:
    """Fan power over full-flow power in an hour whose mean flow is a share of the full flow.

    A fan of two speeds runs part of such an hour at each, so that its power is the mean of the two,
    weighted by time; one of variable speed runs at the flow itself.

    A share [1]. Fan laws, as ``fan_power_share``; the mean is our own.
    """
    low = control.minimum_share
    if control.kind != TWO_SPEED or share <= low:
        return fan_power_share(share, control.set_pressure_share)
    at_low = fan_power_share(low, control.set_pressure_share)
    return at_low + (share - low) / (1.0 - low) * (1.0 - at_low)


@compiled
def leaving_setpoint(control: FlowControl, outdoor_C: float) -> float:
    """Air off the coil [C] asked for at an outdoor temperature: linear between the reset's ends."""
    span = (outdoor_C - control.reset_low_C) / (control.reset_high_C - control.reset_low_C)
    share = min(max(span, 0.0), 1.0)
    return control.leaving_mild_C + share * (control.leaving_C - control.leaving_mild_C)
