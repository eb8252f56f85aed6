"""What a unit's map says in sentences: the rainy day first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dewledger.dx_unit.cycle import NO_CYCLE
from dewledger.dx_unit.types import ON_OFF, SUBCOOLING, WRAP_AROUND
from dewledger.quantities import Display, show
from dewledger.views.unit_conditions import recovers

if TYPE_CHECKING:
    from dewledger.views.unit import UnitView

# Common practice, no source.
RULE_OF_THUMB_C = 60.0  # 140 F
_NAMES = {SUBCOOLING: "Subcooling heat", WRAP_AROUND: "The wrap-around loop"}
# A limit met this closely binds.
_BINDS = 1e-4


def _t(temp_C: float, display: Display) -> str:
    return show(temp_C, "temperature", display)


def heat_name(view: UnitView) -> str:
    """What warms the air, as the subject of a sentence."""
    return _NAMES.get(view.machine.plant.arrangement, "Condenser heat")


def rainy_answer(view: UnitView, display: Display) -> str:
    """How warm the reheat can make the air on a mild day of rain: one sentence."""
    rainy, state = view.rainy, view.rainy.state
    day = f"On a rainy day of {_t(state.outdoor_C, display)}"
    if not recovers(view.machine):
        return (
            f"{day} the air leaves the coil at {_t(state.leaving_C, display)}; this option "
            "recovers no heat, so only purchased heat can warm it."
        )
    if state.reheat_W <= 0.0:
        return f"{day} the coil takes no moisture out, so there is nothing to reheat."
    supplied = ""
    if rainy.fan_rise_K > 0.0:
        supplied = (
            f", {_t(state.reheated_C + rainy.fan_rise_K, display)} once the supply fan has "
            "added its heat"
        )
    name = heat_name(view)
    return (
        f"{day} {name[:1].lower()}{name[1:]} can warm the air to "
        f"{_t(state.reheated_C, display)}{supplied}."
    )


def rainy_detail(view: UnitView, display: Display) -> str:
    """What that answer rests on, and what holds it there."""
    rainy, state, plant = view.rainy, view.rainy.state, view.machine.plant
    told = (
        f"The unit runs at full capacity. Air meets the coil at {_t(state.temp_in_C, display)}, "
        f"wet bulb "
        f"{_t(state.wet_bulb_in_C, display)}: the room at {_t(rainy.room_C, display)} and "
        f"{100.0 * rainy.room_rh:.0f} % RH with {100.0 * rainy.outdoor_share:.0f} % of saturated "
        f"outdoor air. It leaves the coil at {_t(state.reheat_leaving_C, display)}."
    )
    if state.reheat_W <= 0.0:
        return told
    if plant.arrangement in (ON_OFF, SUBCOOLING, WRAP_AROUND):
        return f"{told} Condensing temperature: {_t(state.reheat_condensing_C, display)}."
    rejected_W = state.reheat_total_W + state.reheat_compressor_W
    if state.reheat_condensing_C > state.condensing_C + 0.3:
        told += (
            f" The condenser is raised from {_t(state.condensing_C, display)} to "
            f"{_t(state.reheat_condensing_C, display)} for it; unraised it warms the air to "
            f"{_t(state.reheated_unraised_C, display)}."
        )
    else:
        told += f" The condenser stays at {_t(state.reheat_condensing_C, display)}."
    if state.reheat_W >= plant.recovery_capacity_W * (1.0 - _BINDS):
        return f"{told} The size of the reheat coil sets the limit."
    if state.reheat_W >= rejected_W * (1.0 - _BINDS):
        return f"{told} More is not to be had: all the heat the unit rejects is then in the air."
    if state.reheat_condensing_C >= plant.condensing_ceiling_C - 0.01:
        return f"{told} The condensing ceiling sets the limit."
    return told


def trade_facts(view: UnitView, display: Display) -> tuple[str, ...]:
    """Rules of thumb beside what the model gives."""
    told = [
        f"Rule of thumb (common practice, no source): air that leaves the coil at "
        f"{_t(45.0 / 1.8 - 32.0 / 1.8, display)} is reheated to "
        f"{_t(60.0 / 1.8 - 32.0 / 1.8, display)} and, when the system allows, to about "
        f"{_t(80.0 / 1.8 - 32.0 / 1.8, display)}."
    ]
    rated, rainy = view.rated_cycle, view.rainy_cycle
    if rated is None or rainy is None:
        return (*told, NO_CYCLE)
    warm = rainy.discharge_temp_C > RULE_OF_THUMB_C
    verdict = "holds here but is" if warm else "does not hold here; it is"
    told.append(
        f"Discharge gas: the cycle gives {_t(rated.discharge_temp_C, display)} at the rating "
        f"(condensing {_t(rated.condensing_dew_C, display)}) and "
        f"{_t(rainy.discharge_temp_C, display)} on the rainy day (condensing "
        f"{_t(rainy.condensing_dew_C, display)}). “Well above {_t(RULE_OF_THUMB_C, display)}” "
        f"(common practice, no source) {verdict} "
        "a ballpark: discharge temperature follows the pressure ratio, the refrigerant, its "
        "superheat and the compressor’s efficiency, and falls with the condensing temperature."
    )
    told.append(
        f"Only {100.0 * rainy.desuperheating_share:.0f} % of the heat rejected on the rainy day "
        "is that superheat; the rest comes at the condensing temperature and below, which is what "
        "bounds the reheat."
    )
    return tuple(told)
