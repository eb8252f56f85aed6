"""The report's appendix: how each reheat arrangement of the case works and is reckoned.

One short page with a schematic for each, only those that the case's options use.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from dewledger.accounts.energy import column
from dewledger.dx_unit.types import (
    MODULATING,
    ON_OFF,
    SUBCOOLING,
    SUBCOOLING_THEN_CONDENSER,
    WRAP_AROUND,
)
from dewledger.quantities import show
from dewledger.reports.diagrams.arrangements import (
    condenser_diagram,
    purchased_diagram,
    subcooling_diagram,
    wrap_around_diagram,
)
from dewledger.reports.page.parts import Picture, Section

if TYPE_CHECKING:
    from dewledger.accounts.option_year import OptionYear
    from dewledger.assembly.machine import Machine
    from dewledger.quantities import Display
    from dewledger.study import Study

_TITLES = {
    MODULATING: "Condenser heat, modulating",
    ON_OFF: "Condenser heat, on/off",
    SUBCOOLING: "Liquid subcooling",
    SUBCOOLING_THEN_CONDENSER: "Liquid subcooling, then condenser heat",
    WRAP_AROUND: "Wrap-around loop",
}
_PURCHASED = "Purchased heat"
_CONDENSING = (
    "The condensing temperature of an hour is the highest of three: the minimum that head-pressure "
    "control holds; outdoor temperature + (heat rejected − heat recovered) / conductance of the "
    "outdoor coil; and, where the reheat coil needs a hotter condenser, leaving-coil temperature "
    "+ recovered / (effectiveness × air capacity rate). The ceiling caps the last and then limits "
    "what is recovered. So heat taken from the condenser first unloads the outdoor coil and cools "
    "it, and only beyond that has to be paid for."
)
_MODES = (
    "Two modes share the hour, cooling and dehumidification, by two part loads that solve two "
    "balances at "
    "once: pc Rc + pd Rd = moisture to remove, and pc Sc + pd (Sd − H) = sensible cooling needed, "
    "with R the moisture removal and S the sensible capacity of each mode and H the heat that "
    "dehumidification mode gives. Neither goes below zero: where the balances would require "
    "negative "
    "cooling, dehumidification alone removes the moisture and overcools. Together they fill "
    "at most the "
    "hour."
)
_METHODS: dict[int, tuple[str, ...]] = {
    MODULATING: (
        "A reheat coil is in the air after the cooling coil, and in the refrigerant parallel "
        "to the outdoor coil. A modulating valve sends it as much of the compressor’s hot gas "
        "as the "
        "air needs; the gas gives up its superheat, condenses and leaves as liquid, which joins "
        "that of the outdoor coil.",
        "What it can give is the least of three: the heat the unit rejects (coil heat and "
        "compressor work), the coil’s own size, and effectiveness × air capacity rate × "
        "(condensing − leaving-coil temperature). What it does give is the overcooling of the "
        "hour, so the room temperature stays steady.",
        _CONDENSING,
    ),
    ON_OFF: (
        "The same coils with a valve that is open or shut. Open, the reheat coil takes all that "
        "its effectiveness gives at the condensing temperature of the moment, wanted or not; the "
        "condensing temperature is the one that then balances the outdoor coil, held at the floor.",
        _MODES,
        "The room temperature varies between the two modes; the ledger reports the temperature "
        "swing of each hour from the net cooling of dehumidification mode, the room’s heat store "
        "and the cycling rate. Compressor work is that of the moisture removed, so the valve "
        "costs comfort and "
        "not power.",
    ),
    SUBCOOLING: (
        "All the warm liquid on its way to the expansion valve first passes a coil in the cold "
        "air after the cooling coil. It gives its heat to the air and arrives at the valve "
        "colder, so that each kilogram of refrigerant takes up exactly that much more in the "
        "cooling coil.",
        "The compressor moves the same refrigerant for the same power. The total taken from the "
        "air, cooling less reheat, stays what it was but for the few per cent that a colder "
        "suction costs; the cooling coil takes out more moisture, so the sensible part falls and "
        "the latent part rises. The heat is refrigerant flow × effectiveness × liquid heat "
        "capacity × (liquid − leaving-coil temperature), and it cannot bring air to room "
        "temperature.",
        _MODES,
    ),
    SUBCOOLING_THEN_CONDENSER: (
        "Air passes a subcooling coil and then a condenser-heat coil. All the liquid goes through "
        "the first; a modulating valve feeds the second with hot gas for what the first leaves.",
        "The first adds its heat to the capacity of the cooling coil and returns exactly that; "
        "the second takes at most what is still rejected, and what its effectiveness gives "
        "between the condensing temperature and the air that reaches it.",
        _CONDENSING,
        _MODES,
    ),
    WRAP_AROUND: (
        "A loop joins two coils, one before the cooling coil and one after it. The first takes "
        "sensible heat from the entering air, the second returns the same heat to the cold "
        "air; the cooling coil between them meets precooled air and spends more of its capacity "
        "on moisture.",
        "Heat moved = effectiveness × air capacity rate × (entering − leaving-coil temperature), "
        "no further than the entering dew point: the loop stays dry. Its coils add to the fan’s "
        "pressure rise; nothing else is spent, and the refrigerant has no part in it.",
        _MODES,
    ),
}
_TRIM = (
    "Purchased heat follows: it gives what the recovered heat leaves, as long as the fan runs, "
    "up to "
    "its capacity, and is charged at its efficiency."
)
_PURCHASED_METHOD = (
    "A heater after the cooling coil meets the reheat load of each hour, up to its capacity, "
    "as long as the fan runs. It purchases that heat over its efficiency, and the power of its "
    "auxiliaries. All the heat the unit rejects goes outdoors.",
)


_FIRST = (
    "Purchased heat goes first: it gives what it can, as long as the fan runs, up to its capacity, "
    "and is charged at its efficiency. The air reaches the reheat coil that much warmer; the "
    "condenser gives only what is left, and finds it harder."
)


def _purchased(machine: Machine) -> tuple[str | None, str | None]:
    """What the purchased sources before and after the recovered heat are called in a diagram."""
    sources = machine.reheat
    place = next((k for k, source in enumerate(sources) if not source.carrier), 0)
    before, after = (
        " and ".join(source.name for source in part if source.carrier)
        for part in (sources[:place], sources[place:])
    )
    return before or None, after or None


def _picture(machine: Machine, recovered: bool) -> str:
    plant = machine.plant
    (first, trim), blow = _purchased(machine), plant.blow_through == 1
    if not recovered:
        return purchased_diagram(blow)
    if plant.arrangement == WRAP_AROUND:
        return wrap_around_diagram(trim, blow)
    if plant.arrangement in (SUBCOOLING, SUBCOOLING_THEN_CONDENSER):
        return subcooling_diagram(plant.arrangement == SUBCOOLING_THEN_CONDENSER, trim, blow)
    return condenser_diagram(plant.arrangement == ON_OFF, trim, blow, first)


def _swing(option: OptionYear, display: Display) -> str:
    """The room's swing between two modes over the year; empty where there is none."""
    swing = column(option.ledger, "temp_swing_K")
    swing = swing[swing > 0.0]
    if not swing.size:
        return ""

    def shown(value_K: float) -> str:
        return show(value_K, "temperature difference", display, 2)

    return (
        f"{option.title}: within an hour the room temperature varies by "
        f"{shown(float(swing.max()))} at most, "
        f"by {shown(float(np.median(swing)))} in the middle one of the year’s {swing.size:,} hours "
        "in which it does."
    )


def arrangement_sections(study: Study) -> tuple[Section, ...]:
    """A page for each arrangement that an option uses, with and without purchased heat after it."""
    found: dict[str, tuple[Machine, int | None, list[OptionYear]]] = {}
    for option in study.options:
        machine = option.machine
        if not machine.reheat:
            continue
        recovered = any(not source.carrier for source in machine.reheat)
        arrangement = machine.plant.arrangement if recovered else None
        title = _PURCHASED if arrangement is None else _TITLES[arrangement]
        first, trim = _purchased(machine)
        if arrangement is not None:
            if first:
                title = (
                    f"{first[:1].upper()}{first[1:]} reheat, then {title[:1].lower()}{title[1:]}"
                )
            if trim:
                title += f", then {trim}"
        found.setdefault(title, (machine, arrangement, []))[2].append(option)
    sections = []
    described: set[int | None] = set()
    for place, (title, (machine, arrangement, options)) in enumerate(found.items()):
        paragraphs = list(_PURCHASED_METHOD if arrangement is None else _METHODS[arrangement])
        if arrangement in described:
            base = _TITLES[arrangement] if arrangement is not None else _PURCHASED
            paragraphs = [f"As “{base}” above."]
        described.add(arrangement)
        if arrangement is not None:
            first, trim = _purchased(machine)
            paragraphs += [_FIRST] if first else []
            paragraphs += [_TRIM] if trim else []
        swings = [_swing(option, study.case.display) for option in options]
        paragraphs += [swing for swing in swings if swing]
        sections.append(
            Section(
                f"arrangement-{place + 1}",
                f"Method: {title[:1].lower()}{title[1:]}",
                tuple(paragraphs),
                pictures=(
                    Picture(
                        _picture(machine, arrangement is not None),
                        "Schematic, not to scale. Used by: "
                        f"{', '.join(option.title for option in options)}.",
                    ),
                ),
            )
        )
    return tuple(sections)


_STEPS = (
    "Moist air follows the ideal-gas equations of the ASHRAE Handbook – Fundamentals, chapter "
    "1, at "
    "the station pressure of the hour. Humidity comes from the file’s dew point.",
    "The coil is described by its apparatus dew point and bypass factor, taken from the unit’s "
    "rating and carried to other air flows; a coil warmer than the entering dew point stays dry.",
    "The unit’s capacity and power at each hour come from a balance of compressor, evaporator and "
    "condenser that meets the rating point exactly, with a compressor whose efficiency follows a "
    "published one over the pressure ratio, or from the performance table of the case.",
    "Part load follows the case: cycling, with its loss and with the moisture that a wet coil "
    "re-evaporates while the fan runs on; stages; or variable displacement, which dry by the "
    "case’s drying control.",
    "Control meets the cooling call first. Where the room is then still above its humidity "
    "limit, a "
    "dehumidification call runs the coil further; the sensible cooling done beyond the room’s need "
    "is the overcooling heat, the reheat load.",
    "Reheat meets that load from the option’s sources in their order. In every hour and every "
    "total, "
    "overcooling heat = recovered + purchased + unmet. Space heating is counted apart and is never "
    "reheat.",
    "Condenser heat is limited by the heat the unit rejects and by what its coil can pass to "
    "the air "
    "at the condensing temperature, which is held between a minimum and a maximum. What recovering "
    "it costs or saves the compressor and the condenser fan is the recovery penalty, against the "
    "same moisture removal without it.",
    "The room’s moisture and heat balances store what they cannot pass on, step by step, so that "
    "each hour closes.",
)


def method_section() -> Section:
    """The method in brief."""
    return Section(
        "method",
        "Method",
        (
            "Each option is solved for the 8,760 hours of one weather year, after a warm-up that "
            "brings the room’s moisture and heat to their own level. All options see the same "
            "weather, occupancy and gains; they differ only in what the inputs list.",
        ),
        points=_STEPS,
    )
