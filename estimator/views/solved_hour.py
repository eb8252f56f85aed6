"""One hour of a ledger as its views read it."""

from __future__ import annotations

from dataclasses import dataclass

from dewledger.assembly.machine import Machine
from dewledger.hourly.ledger import INDEX
from dewledger.hourly.types import DRIVERS
from dewledger.weather.physics.moist_air import FloatArray, heat_capacity, vapor_enthalpy


@dataclass(frozen=True)
class SolvedHour:
    """One hour of a ledger, column by column, with the machine that made it."""

    ledger: FloatArray
    machine: Machine
    hour: int

    def at(self, name: str) -> float:
        return float(self.ledger[INDEX[name], self.hour])

    def watts(self, name: str) -> float:
        """The mean heat flow or power of an energy of the hour."""
        return 1000.0 * self.at(name)

    def driver(self, name: str) -> float:
        return float(self.machine.drivers[self.hour][DRIVERS.index(name)])

    def fan_W(self) -> float:
        """Mean power of the supply fan, reheat coils included."""
        return self.watts("supply_fan_kWh") + self.watts("reheat_coil_fan_kWh")

    def taken_from_room(self) -> tuple[float, float]:
        """Sensible and latent heat [W] that the supply air takes from the room."""
        at = self.at
        fan = at("fan_runtime_frac")
        if fan <= 0.0:
            return 0.0, 0.0
        flow = fan * at("supply_flow_kg_s")
        temp, w = at("room_temp_C"), at("supply_hum_ratio_kg_kg")
        sensible = flow * heat_capacity(w) * (temp - at("supply_temp_C"))
        return sensible, flow * (at("room_hum_ratio_kg_kg") - w) * vapor_enthalpy(temp)
