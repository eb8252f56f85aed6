"""Where drying with a cooling coil ends: low dew points, and the floor of the coil's surface.

Rooms that ask for dew points below about 35 F are beyond mechanical dehumidification (ASHRAE
Handbook, HVAC Systems and Equipment 2016, chapter 25): a coil that cold would freeze.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dewledger.accounts.energy import column
from dewledger.assembly.machine import Machine
from dewledger.dx_unit.steady_state import steady_state
from dewledger.dx_unit.types import UnitMap
from dewledger.hourly.types import DEW_POINT, DRIVERS, NO_CONTROL
from dewledger.quantities import Display, show
from dewledger.weather.physics.moist_air import (
    FloatArray,
    heat_capacity,
    saturation_pressure,
    temp_from_saturation_pressure,
    vapor_pressure_from_hum_ratio,
)
from dewledger.weather.physics.moist_air_arrays import (
    hum_ratios_from_rel_hum,
    saturation_hum_ratios,
)

LOWEST_DEW_POINT_C = 35.0 / 1.8 - 32.0 / 1.8
# A limit of 35 F counts, whatever its rounding.
_SAME_K = 0.01
_OF_FLOORED_HOURS = (
    "mixed_hum_ratio_kg_kg", "mixed_temp_C", "capacity_frac", "condensing_temp_C",
    "surface_temp_C", "compressor_runtime_frac",
)  # fmt: skip
# Below any surface a unit reaches: no floor at all.
_NO_FLOOR_C = -60.0
# A room this little above its limit still counts as holding it.
_HELD = 1.005
SOURCE = "ASHRAE Handbook, HVAC Systems and Equipment 2016, chapter 25"


@dataclass(frozen=True)
class DryingBounds:
    """What low dew points and the coil-surface floor cost an option in its year.

    limit_dew_point_C : lowest dew point that the limit asks for while the unit may run; None
        without humidity control
    hours_called_low : dehumidification calls for a dew point of LOWEST_DEW_POINT_C or below
    hours_not_met_low : of them, hours that ended above the limit
    floor_hours : hours in which the surface floor held the unit back
    floor_hours_not_met : of them, dehumidification calls that ended above the limit
    floor_lost_kWh : cooling that the unit would have given beyond in those hours
    floor_lost_share : of the cooling it could have given in them without the floor
    ceiling_hours : hours in which the condensing ceiling limited what was recovered
    wet_hours : hours in which water condensed on the room's surfaces
    wet_kg : that water
    """

    limit_dew_point_C: float | None
    hours_called_low: int
    hours_not_met_low: int
    floor_C: float
    floor_hours: int
    floor_hours_not_met: int
    floor_lost_kWh: float
    floor_lost_share: float
    ceiling_hours: int
    wet_hours: int
    wet_kg: float

    @property
    def another_technology(self) -> bool:
        """Whether drying by cooling cannot do what the case asks."""
        return self.hours_not_met_low > 0 or self.floor_hours_not_met > 0

    @staticmethod
    def _hours(count: int) -> str:
        return f"{count:,} hour{'' if count == 1 else 's'}"

    def sentences(self, display: Display) -> tuple[str, ...]:
        """What a reader must know, none where nothing bound."""
        lines = []
        end = show(LOWEST_DEW_POINT_C, "temperature", display)
        if self.limit_dew_point_C is not None and self.hours_called_low > 0:
            asked = show(self.limit_dew_point_C, "temperature", display)
            lines.append(
                f"A desiccant dehumidifier or other low-dew-point method is needed: the humidity "
                f"limit requires a dew point down to {asked}, and at about {end} drying by cooling "
                f"ends ({SOURCE}). {self.hours_called_low:,} hours of the year call for one so "
                f"low; {self.hours_not_met_low:,} of them end above the limit."
                if self.hours_not_met_low > 0
                else f"The humidity limit requires a dew point down to {asked}, and at about {end} "
                f"drying by cooling ends ({SOURCE}); the {self.hours_called_low:,} "
                "hours that call for it are met in the model only: expect that a desiccant "
                "dehumidifier or other low-dew-point method is needed."
            )
        if self.floor_hours > 0:
            floor = show(self.floor_C, "temperature", display)
            lost = show(self.floor_lost_kWh / self.floor_hours * 1000.0, "heat flow", display)
            share = 100.0 * self.floor_lost_share
            lines.append(
                f"The floor of {floor} for the coil’s surface (frost) held the unit back in "
                f"{self._hours(self.floor_hours)}; it cost {lost} of cooling on average in them, "
                f"{share:.0f} % of what the unit could have given."
                + (
                    f" In {self.floor_hours_not_met:,} of them the room ended above its limit: "
                    "cooling coils cannot dry it further; a desiccant dehumidifier or other "
                    "low-dew-point method is needed."
                    if self.floor_hours_not_met > 0
                    else ""
                )
            )
        if self.ceiling_hours > 0:
            lines.append(
                f"The condensing ceiling limited the reheat recovered from the condenser in "
                f"{self._hours(self.ceiling_hours)}."
            )
        if self.wet_hours > 0:
            rate = show(self.wet_kg / self.wet_hours / 3600.0, "moisture flow", display)
            lines.append(
                f"In {self.wet_hours:,} hours the room’s air is saturated and water condenses on "
                f"its surfaces, {rate} on average in them: moisture gains exceed removal; "
                "check moisture gains, outdoor air and operating hours of the unit."
            )
        return tuple(lines)


def _limits(ledger: FloatArray, machine: Machine) -> FloatArray:
    """The humidity ratio that the limit allows at the temperature each hour ends with."""
    control = machine.control.humidity_control
    limit = machine.drivers[:, DRIVERS.index("humidity_limit")].copy()
    pressure = machine.drivers[:, DRIVERS.index("pressure_Pa")].copy()
    temp = column(ledger, "room_temp_C")
    if control == DEW_POINT:
        return saturation_hum_ratios(limit, pressure)
    return hum_ratios_from_rel_hum(temp, limit, pressure)


def drying_bounds(ledger: FloatArray, machine: Machine) -> DryingBounds:
    """What bound an option's drying in its year."""
    called = column(ledger, "moisture_call_flag") > 0.0
    floored = column(ledger, "surface_floor_flag") > 0.0
    lowest = None
    low = np.zeros(called.shape, dtype=bool)
    not_met = low
    pressure = machine.drivers[:, DRIVERS.index("pressure_Pa")].copy()
    if machine.control.humidity_control != NO_CONTROL:
        limits = _limits(ledger, machine)
        not_met = called & (column(ledger, "room_hum_ratio_kg_kg") > _HELD * limits)
        # Of the limit's dew point only the order matters, and that is the order of the vapor's
        # pressure.
        vapor = vapor_pressure_from_hum_ratio(np.maximum(limits, 1e-7), pressure)
        running = column(ledger, "system_off_flag") < 1.0
        if running.any():
            lowest = temp_from_saturation_pressure(float(vapor[running].min()))
        low = called & (vapor < saturation_pressure(LOWEST_DEW_POINT_C + _SAME_K))
    lost, could = _lost(ledger, machine, floored)
    plant = machine.plant
    condensing = np.nan_to_num(column(ledger, "condensing_temp_C"), nan=-100.0)
    short = column(ledger, "overcooling_heat_kWh") - column(ledger, "reheat_recovered_kWh") > 1e-3
    ceiling = (
        called
        & short
        & (column(ledger, "reheat_recovered_kWh") > 0.0)
        & (np.abs(condensing - plant.condensing_ceiling_C) < 1e-3)
    )
    return DryingBounds(
        lowest,
        int(low.sum()),
        int((low & not_met).sum()),
        machine.unit.map.surface_floor_C,
        int(floored.sum()),
        int((floored & not_met).sum()),
        lost,
        lost / could if could > 0.0 else 0.0,
        int(ceiling.sum()),
        int((column(ledger, "surface_condensation_kg") > 0.0).sum()),
        float(column(ledger, "surface_condensation_kg").sum()),
    )


def _lost(
    ledger: FloatArray, machine: Machine, hours: npt.NDArray[np.bool_]
) -> tuple[float, float]:
    """Cooling [kWh] that the floor cost, and what the unit would have given without it.

    The unit's steady running on the hour's own entering air, with the floor and without.
    """
    free: UnitMap = machine.unit.map._replace(surface_floor_C=_NO_FLOOR_C)
    plant = machine.plant
    pressure = machine.drivers[:, DRIVERS.index("pressure_Pa")]
    columns = [column(ledger, name)[hours].tolist() for name in _OF_FLOORED_HOURS]
    lost = could = 0.0
    for at_Pa, w, temp, fraction, condensing, surface, runtime in zip(
        pressure[hours].tolist(), *columns, strict=True
    ):
        entering = temp
        if plant.blow_through == 1:
            entering += plant.fan_W / (plant.flow_kg_s * heat_capacity(w))
        state = (fraction, entering, w, at_Pa, plant.flow_kg_s, condensing, surface)
        without = float(steady_state(free, *state)[0])
        held = float(steady_state(machine.unit.map, *state)[0])
        lost += runtime * max(without - held, 0.0) / 1000.0
        could += runtime * without / 1000.0
    return lost, could
