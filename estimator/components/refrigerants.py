"""Refrigerants, and their property states from CoolProp.

Temperatures of saturation are dew points, unless said otherwise. No pressure drops.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from dewledger.weather.errors import InputError

DEFAULT_SUPERHEAT_K = 10.0 / 1.8
DEFAULT_SUBCOOLING_K = 10.0 / 1.8


@dataclass(frozen=True)
class Refrigerant:
    """A refrigerant: its name for users, for CoolProp, and its re-expansion exponent.

    ``re_expansion`` is n of the volumetric efficiency 1 + c - c r^(1/n): the ratio of specific
    heats of the thin vapor at 27 C and one atmosphere, computed with CoolProp 8.0.0 (textbooks
    give 1.18 for R-22 and 1.11 for R-134a, not checked against the text).
    """

    name: str
    coolprop: str
    re_expansion: float


REFRIGERANTS: dict[str, Refrigerant] = {
    refrigerant.name: refrigerant
    for refrigerant in (
        # R-410A as a pseudo-pure fluid: the mixture solver fails at some pressures.
        Refrigerant("R-410A", "R410A", 1.17),
        Refrigerant("R-32", "R32", 1.25),
        Refrigerant("R-454B", "R454B.mix", 1.20),
        Refrigerant("R-134a", "R134a", 1.12),
        Refrigerant("R-22", "R22", 1.18),
    )
}


def refrigerant_named(name: str) -> Refrigerant:
    """The refrigerant a user names; "R410A" and "r-410a" will do.

    Raises
    ------
    InputError : an unknown name, with the known ones
    """
    plain = name.upper().replace("-", "").replace(" ", "")
    for refrigerant in REFRIGERANTS.values():
        if refrigerant.name.upper().replace("-", "") == plain:
            return refrigerant
    raise InputError(f'refrigerant "{name}" is not known; write one of {", ".join(REFRIGERANTS)}')


class Saturation(NamedTuple):
    """Saturation at one pressure."""

    pressure: float
    bubble_C: float
    dew_enthalpy: float
    bubble_enthalpy: float


class States:
    """States of one refrigerant from CoolProp's low-level interface, in C, Pa, J/kg, J/(kg K)."""

    def __init__(self, refrigerant: Refrigerant) -> None:
        import CoolProp
        from CoolProp.CoolProp import AbstractState

        self._name = refrigerant.name
        self._c: Any = CoolProp
        self._state: Any = AbstractState("HEOS", refrigerant.coolprop)

    def dew_pressure(self, temp_C: float) -> float:
        self._state.unspecify_phase()
        self._state.update(self._c.QT_INPUTS, 1.0, temp_C + 273.15)
        return float(self._state.p())

    def bubble_temp(self, pressure: float) -> float:
        self._state.unspecify_phase()
        self._state.update(self._c.PQ_INPUTS, pressure, 0.0)
        return float(self._state.T()) - 273.15

    def saturated_enthalpy(self, pressure: float, quality: float) -> float:
        self._state.unspecify_phase()
        self._state.update(self._c.PQ_INPUTS, pressure, quality)
        return float(self._state.hmass())

    def saturation(self, dew_C: float) -> Saturation:
        """Saturation at a dew point.

        For mixtures the library has no solution in bands a few kelvin wide. There the states come
        from a polynomial through the three nearest that it can give on either side, half a kelvin
        apart (cubic by least squares; the properties bend so little that the error is below 1e-5).
        """
        try:
            return self._saturation_at(dew_C)
        except ValueError:
            pass
        offsets: list[float] = []
        rows: list[Saturation] = []
        for side in (-1.0, 1.0):
            found = 0
            for steps in range(1, 21):
                offset = side * 0.5 * steps
                try:
                    rows.append(self._saturation_at(dew_C + offset))
                except ValueError:
                    continue
                offsets.append(offset)
                found += 1
                if found == 3:
                    break
            if found < 3:
                raise InputError(
                    f"no saturation states of {self._name} are known near {dew_C:.1f} C; the "
                    "condensing temperature must stay well below the critical point"
                )
        columns = np.array(rows)
        columns[:, 0] = np.log(columns[:, 0])
        fitted = np.polynomial.polynomial.polyfit(np.array(offsets), columns, 3)[0]
        return Saturation(math.exp(fitted[0]), *(float(value) for value in fitted[1:]))

    def _saturation_at(self, dew_C: float) -> Saturation:
        pressure = self.dew_pressure(dew_C)
        return Saturation(
            pressure,
            self.bubble_temp(pressure),
            self.saturated_enthalpy(pressure, 1.0),
            self.saturated_enthalpy(pressure, 0.0),
        )

    def liquid_enthalpy(self, pressure: float, temp_C: float) -> float:
        self._state.specify_phase(self._c.iphase_liquid)
        self._state.update(self._c.PT_INPUTS, pressure, temp_C + 273.15)
        return float(self._state.hmass())

    def gas(self, pressure: float, temp_C: float) -> tuple[float, float, float, float]:
        """Enthalpy, entropy, density and specific heat of superheated vapor."""
        self._state.specify_phase(self._c.iphase_gas)
        self._state.update(self._c.PT_INPUTS, pressure, temp_C + 273.15)
        state = self._state
        return (
            float(state.hmass()),
            float(state.smass()),
            float(state.rhomass()),
            float(state.cpmass()),
        )

    def gas_temp_at(self, pressure: float, start_C: float, entropy: float) -> float:
        """Temperature of vapor at a pressure and an entropy, by Newton on temperature.

        Own iteration: the library's flashes from entropy fail or crawl for mixtures.
        """
        temp = start_C
        for _ in range(50):
            _, s, _, cp = self.gas(pressure, temp)
            step = (s - entropy) * (temp + 273.15) / cp
            temp -= min(max(step, -40.0), 40.0)
            if abs(step) < 1e-9:
                break
        return temp

    def gas_temp_of(self, pressure: float, start_C: float, enthalpy: float) -> float:
        """Temperature of vapor at a pressure and an enthalpy, by Newton on temperature."""
        temp = start_C
        for _ in range(50):
            h, _, _, cp = self.gas(pressure, temp)
            step = (h - enthalpy) / cp
            temp -= min(max(step, -40.0), 40.0)
            if abs(step) < 1e-9:
                break
        return temp
