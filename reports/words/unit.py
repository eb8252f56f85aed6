"""What a unit's map says in sentences: saturated outdoor air first."""

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
    day = f"At {_t(state.outdoor_C, display)} saturated outdoor air,"
    if not recovers(view.machine):
        return (
            f"{day} air leaves the coil at {_t(state.leaving_C, display)}; this option "
            "recovers no heat, so only purchased reheat can warm it."
        )
    if state.reheat_W <= 0.0:
        return f"{day} the coil removes no moisture, so there is no reheat."
    supplied = ""
    if rainy.fan_rise_K > 0.0:
        supplied = f", {_t(state.reheated_C + rainy.fan_rise_K, display)} after the supply fan"
    name = heat_name(view)
    return (
        f"{day} maximum reheat leaving-air temperature by {name[:1].lower()}{name[1:]} is "
        f"{_t(state.reheated_C, display)}{supplied}."
    )


def rainy_detail(view: UnitView, display: Display) -> str:
    """What that answer rests on, and what holds it there."""
    rainy, state, plant = view.rainy, view.rainy.state, view.machine.plant
    text = (
        f"The unit runs at full capacity. Air meets the coil at {_t(state.temp_in_C, display)}, "
        f"wet bulb "
        f"{_t(state.wet_bulb_in_C, display)}: the room at {_t(rainy.room_C, display)} and "
        f"{100.0 * rainy.room_rh:.0f} % RH with {100.0 * rainy.outdoor_share:.0f} % of saturated "
        f"outdoor air. It leaves the coil at {_t(state.reheat_leaving_C, display)}."
    )
    if state.reheat_W <= 0.0:
        return text
    if plant.arrangement in (ON_OFF, SUBCOOLING, WRAP_AROUND):
        return f"{text} Condensing temperature: {_t(state.reheat_condensing_C, display)}."
    rejected_W = state.reheat_total_W + state.reheat_compressor_W
    if state.reheat_condensing_C > state.condensing_C + 0.3:
        text += (
            f" Head pressure control raises the condensing temperature from "
            f"{_t(state.condensing_C, display)} to {_t(state.reheat_condensing_C, display)}; "
            f"without that the air leaves at {_t(state.reheated_unraised_C, display)}."
        )
    else:
        text += f" The condensing temperature stays at {_t(state.reheat_condensing_C, display)}."
    if state.reheat_W >= plant.recovery_capacity_W * (1.0 - _BINDS):
        return f"{text} Limited by the size of the reheat coil."
    if state.reheat_W >= rejected_W * (1.0 - _BINDS):
        return f"{text} Limited by total heat of rejection."
    if state.reheat_condensing_C >= plant.condensing_ceiling_C - 0.01:
        return f"{text} Limited by the maximum condensing temperature."
    return text


def trade_facts(view: UnitView, display: Display) -> tuple[str, ...]:
    """Rules of thumb against what the model gives."""
    lines = [
        f"Rule of thumb (common practice, no source): air that leaves the coil at "
        f"{_t(45.0 / 1.8 - 32.0 / 1.8, display)} is reheated to "
        f"{_t(60.0 / 1.8 - 32.0 / 1.8, display)} and, when the system allows, to about "
        f"{_t(80.0 / 1.8 - 32.0 / 1.8, display)}."
    ]
    rated, rainy = view.rated_cycle, view.rainy_cycle
    if rated is None or rainy is None:
        return (*lines, NO_CYCLE)
    warm = rainy.discharge_temp_C > RULE_OF_THUMB_C
    verdict = "holds here but is" if warm else "does not hold here; it is"
    lines.append(
        f"Discharge gas: the cycle gives {_t(rated.discharge_temp_C, display)} at the rating "
        f"(condensing {_t(rated.condensing_dew_C, display)}) and "
        f"{_t(rainy.discharge_temp_C, display)} with saturated outdoor air (condensing "
        f"{_t(rainy.condensing_dew_C, display)}). “Well above {_t(RULE_OF_THUMB_C, display)}” "
        f"(common practice, no source) {verdict} "
        "approximate: discharge temperature follows the pressure ratio, the refrigerant, its "
        "superheat and the compressor’s efficiency, and falls with the condensing temperature."
    )
    lines.append(
        f"Superheat is only {100.0 * rainy.desuperheating_share:.0f} % of that heat of rejection; "
        "the rest is at the condensing temperature and below, which limits reheat."
    )
    return tuple(lines)
