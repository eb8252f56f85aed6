"""Saturation of a refrigerant between the cold end of a chart and its critical point.

From CoolProp. For mixtures the library has no solution in some bands and near the critical point;
there the branches are interpolated in sqrt(1 - p/pc), in which they are smooth up to the critical
point that both share.
"""

from __future__ import annotations

from functools import cache
from typing import Any, NamedTuple

import numpy as np

from dewledger.components.refrigerants import Refrigerant
from dewledger.weather.physics.moist_air import ZERO_C_K, FloatArray

COLDEST_C = -60.0
STEP_K = 1.0


class Branch(NamedTuple):
    """One side of the dome by rising pressure, ended at the critical point."""

    pressure_Pa: FloatArray
    enthalpy_J_kg: FloatArray
    temp_C: FloatArray

    def enthalpy_at(self, pressure_Pa: FloatArray | float) -> FloatArray:
        """Saturated enthalpy at pressures within the branch."""
        return self._at(pressure_Pa, self.enthalpy_J_kg)

    def temp_at(self, pressure_Pa: FloatArray | float) -> FloatArray:
        """Saturation temperature [C] at pressures within the branch."""
        return self._at(pressure_Pa, self.temp_C)

    def pressure_at(self, temp_C: float) -> float:
        """Saturation pressure [Pa] at a temperature within the branch."""
        from scipy.interpolate import PchipInterpolator

        return float(np.exp(PchipInterpolator(self.temp_C, np.log(self.pressure_Pa))(temp_C)))

    def _at(self, pressure_Pa: FloatArray | float, values: FloatArray) -> FloatArray:
        from scipy.interpolate import PchipInterpolator

        critical = self.pressure_Pa[-1]
        nearness = np.sqrt(1.0 - self.pressure_Pa / critical)
        smooth = PchipInterpolator(nearness[::-1], values[::-1])
        asked = np.asarray(pressure_Pa, dtype=float) / critical
        found: FloatArray = smooth(np.sqrt(np.maximum(1.0 - asked, 0.0)))
        return found


class Dome(NamedTuple):
    """The bubble and the dew line."""

    bubble: Branch
    dew: Branch

    @property
    def critical_pressure_Pa(self) -> float:
        return float(self.dew.pressure_Pa[-1])

    def outline(self, lowest_Pa: float) -> tuple[FloatArray, FloatArray]:
        """Enthalpy [J/kg] and pressure [Pa] along bubble line, critical point and dew line."""
        low = lowest_Pa / self.critical_pressure_Pa
        # even in sqrt(1 - p/pc): the round top gets as many points as the flanks
        nearness = np.linspace(np.sqrt(1.0 - low), 0.0, 120)
        pressure = self.critical_pressure_Pa * (1.0 - nearness**2)
        enthalpy = np.concatenate(
            [self.bubble.enthalpy_at(pressure), self.dew.enthalpy_at(pressure[::-1])[1:]]
        )
        return enthalpy, np.concatenate([pressure, pressure[::-1][1:]])


@cache
def dome(refrigerant: Refrigerant) -> Dome:
    """Both branches from -60 C up."""
    import CoolProp
    from CoolProp.CoolProp import AbstractState

    library: Any = CoolProp
    state: Any = AbstractState("HEOS", refrigerant.coolprop)
    temp_K, pressure, enthalpy = _critical(library, refrigerant)
    branches = []
    for quality in (0.0, 1.0):
        rows = []
        for kelvin in np.arange(COLDEST_C + ZERO_C_K, temp_K - 0.3, STEP_K):
            try:
                state.update(library.QT_INPUTS, quality, float(kelvin))
            except ValueError:  # a band without solution, see above
                continue
            rows.append((state.p(), state.hmass(), float(kelvin) - ZERO_C_K))
        rows.append((pressure, enthalpy, temp_K - ZERO_C_K))
        branches.append(Branch(*np.array(rows).T))
    return Dome(*branches)


def _critical(library: Any, refrigerant: Refrigerant) -> tuple[float, float, float]:
    """Critical temperature [K], pressure [Pa] and enthalpy [J/kg]."""
    state: Any = library.AbstractState("HEOS", refrigerant.coolprop)
    if len(state.fluid_names()) == 1:
        temp, pressure, density = state.T_critical(), state.p_critical(), state.rhomolar_critical()
    else:
        point = next(point for point in state.all_critical_points() if point.stable)
        temp, pressure, density = point.T, point.p, point.rhomolar
    state.specify_phase(library.iphase_gas)
    state.update(library.DmolarT_INPUTS, density, temp)
    return temp, pressure, state.hmass()


def isotherm(
    refrigerant: Refrigerant, temp_C: float, lowest_Pa: float, highest_Pa: float
) -> tuple[FloatArray, FloatArray]:
    """Enthalpy [J/kg] and pressure [Pa] of the vapor at a temperature, from low pressure up.

    It ends on the dew line, or above the critical temperature at ``highest_Pa``, or where the
    library has no solution (mixtures, just above the critical point).
    """
    import CoolProp
    from CoolProp.CoolProp import AbstractState

    library: Any = CoolProp
    edge = dome(refrigerant)
    state: Any = AbstractState("HEOS", refrigerant.coolprop)
    state.specify_phase(library.iphase_gas)
    saturated = temp_C < edge.dew.temp_C[-1] - 1.0
    top = edge.dew.pressure_at(temp_C) if saturated else highest_Pa
    pressures = np.geomspace(lowest_Pa, top, 120)
    rows = []
    for pressure in pressures[:-1] if saturated else pressures:
        try:
            state.update(library.PT_INPUTS, float(pressure), temp_C + ZERO_C_K)
        except ValueError:
            if saturated:
                continue
            break
        rows.append((state.hmass(), float(pressure)))
    if saturated:
        rows.append((float(edge.dew.enthalpy_at(top)), top))
    enthalpy, pressure_Pa = np.array(rows).T
    return enthalpy, pressure_Pa
