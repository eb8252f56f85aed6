"""What a study says to those who sign: the energy code, the humidity criteria, mould.

The code findings come from ``estimator.allowance`` on the facts of ``estimator.reheat_facts``, the
criteria from ``estimator.humidity``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np

from estimator import humidity
from estimator.accounts import column
from estimator.allowance import (
    Allowance,
    CoilAnswer,
    Determination,
    determine,
    recovered_share_threshold,
    smallest_coil,
)
from estimator.assembly import Machine, Source
from estimator.case import OptionCase
from estimator.case.criteria import OwnCriterion
from estimator.flow_control import VARIABLE_FLOW
from estimator.giving_back import CONDENSER
from estimator.quantities import Display, show
from estimator.ratings import YearEfficiency, year_efficiency
from estimator.reheat_facts import reheat_facts
from weather.moist_air import FloatArray
from weather.year import WeatherYear

ASSUMED = Allowance(code="90.1", edition="2019")
# Effectiveness of a condenser-heat coil that is not there yet: common practice, no source.
ADDED_EFFECTIVENESS = 0.6
# The coil's size is found to this share of the largest tried.
COIL_TOLERANCE = 0.005

Solve = Callable[[Machine], FloatArray]


@dataclass(frozen=True)
class CoilSize:
    """How the condenser-heat coil's size bears on the code's answer.

    threshold : the recovered share asked for; None where the code asks for none
    answer : the smallest coil that reaches it; None where no size decides
    sentence : the answer for a reader
    """

    threshold: float | None
    answer: CoilAnswer | None
    sentence: str


@dataclass(frozen=True)
class Judgement:
    """One option judged.

    code_assumed : the case names no code, so one is assumed
    own_range : the year against the case's own humidity range
    criteria : and against the published criteria that the case names
    efficiency : moisture removed over the energy charged to it, by month
    """

    code_assumed: bool
    determination: Determination
    coil: CoilSize
    own_range: humidity.Finding
    criteria: tuple[humidity.Finding, ...]
    mould: humidity.MouldFinding
    efficiency: YearEfficiency


def judge_option(
    option: OptionCase,
    machine: Machine,
    ledger: FloatArray,
    annual: dict[str, Any],
    reference: tuple[Machine, FloatArray],
    year: WeatherYear,
    solve: Solve,
    display: Display,
) -> Judgement:
    """Judge one option's year.

    Parameters
    ----------
    reference : machine and ledger of the reference option, which stands for the code's baseline
    solve : solves a changed machine's year, for the size of the coil
    """
    stated = option.case.allowance
    allowance = stated or ASSUMED
    facts = reheat_facts(option, machine, ledger, annual, reference, allowance)
    occupied = machine.calendar.occupied
    frame = year.frame
    month = frame["month"].to_numpy().astype(np.int64)
    temp = column(ledger, "room_temp_C")
    w = column(ledger, "room_hum_ratio_kg_kg")
    pressure = frame["pressure_Pa"].to_numpy()

    def held(criterion: humidity.Criterion) -> humidity.Finding:
        return humidity.evaluate(
            criterion,
            temp,
            w,
            pressure,
            occupied,
            month,
            frame["temp_dew_C"].to_numpy(),
            year.station.dehumidification_dew_point_C,
        )

    settings = option.case.humidity
    own = humidity.Criterion(
        "own-range",
        "The case’s own range",
        "relative humidity",
        float(settings.range_low),
        float(settings.range_high),
    )
    determination = determine(allowance, facts, display)
    coil = coil_size(machine, annual, ledger, allowance, solve, display)
    return Judgement(
        stated is None,
        determination,
        replace(coil, sentence=_whatever_the_coil(determination) + coil.sentence),
        held(own),
        tuple(
            held(criterion)
            for criterion in (
                *(humidity.criterion(key) for key in settings.criteria),
                *(_own(place, one) for place, one in enumerate(settings.own_criteria, 1)),
            )
        ),
        _mould(option, temp, w, pressure, column(ledger, "outdoor_temp_C"), month, display),
        year_efficiency(column(ledger, "condensate_kg"), drying_energy_kWh(ledger), month),
    )


def _own(place: int, stated: OwnCriterion) -> humidity.Criterion:
    """A criterion of the case's own."""
    low, high = stated.limits()
    temp_low, temp_high = stated.temperature_low, stated.temperature_high
    return humidity.Criterion(
        f"own-{place}",
        stated.title,
        stated.measure,
        None if low is None else float(low),
        None if high is None else float(high),
        float(stated.seasonal_drift),
        None if temp_low is None else float(temp_low),
        None if temp_high is None else float(temp_high),
        stated.hours,
        "",
        stated.source,
        "not verified",
    )


def _whatever_the_coil(determination: Determination) -> str:
    """That the answer hangs on no coil, where an exception is met that asks for no recovered heat;
    empty where it does."""
    items = [
        finding.rule.item
        for finding in determination.exceptions
        if finding.verdict == "met" and finding.rule.test != "recovered_share"
    ]
    if determination.verdict != "allowed" or not items:
        return ""
    met = f"Exception {items[0]} is" if len(items) == 1 else f"Exceptions {', '.join(items)} are"
    return f"{met} met whatever the coil. "


def drying_energy_kWh(ledger: FloatArray) -> FloatArray:
    """Compressor, fans and bought reheat of each hour: what AHRI 920 counts."""
    names = (
        "compressor_kWh",
        "condenser_fan_kWh",
        "supply_fan_kWh",
        "reheat_purchased_electricity_kWh",
        "reheat_purchased_gas_kWh",
    )
    total: FloatArray = np.sum([column(ledger, name) for name in names], axis=0)
    return total


def _mould(
    option: OptionCase,
    temp: FloatArray,
    w: FloatArray,
    pressure: FloatArray,
    outdoor: FloatArray,
    month: humidity.IntArray,
    display: Display,
) -> humidity.MouldFinding:
    settings = option.case.humidity
    stated = settings.cold_surface_temperature
    if stated is not None:
        words = f"a surface kept at {show(float(stated), 'temperature', display)}"
        return humidity.mould(float(stated), temp, w, pressure, month, words)
    factor = float(settings.cold_surface_factor)
    surface = humidity.surface_temp_from_factor(temp, outdoor, factor)
    words = f"an inside surface {100.0 * factor:.0f} % of the way from outdoor to room temperature"
    return humidity.mould(surface, temp, w, pressure, month, words)


# ---------------------------------------------------------------------------------------------
# Size of the condenser-heat coil


def with_coil(machine: Machine, capacity_W: float) -> Machine:
    """The machine with a condenser-heat coil of a capacity; one is put first where there is none.

    Exact: the same arrays that the case would have given.
    """
    plant = machine.plant
    if plant.recovery_effectiveness > 0.0:
        sources = machine.sources.copy()
        sources[sources[:, 0] == CONDENSER, 1] = capacity_W
        reheat = tuple(
            replace(source, capacity_W=capacity_W) if source.name == "condenser" else source
            for source in machine.reheat
        )
        plant = plant._replace(recovery_capacity_W=capacity_W)
    else:
        row = np.array([[float(CONDENSER), capacity_W, 1.0, 0.0, 0.0]])
        sources = np.vstack([row, machine.sources])
        reheat = (Source("condenser", capacity_W, 1.0, ""), *machine.reheat)
        plant = plant._replace(
            recovery_effectiveness=ADDED_EFFECTIVENESS,
            recovery_capacity_W=capacity_W,
            reheat_before_W=0.0,
            reheat_after_W=plant.reheat_before_W + plant.reheat_after_W,
        )
    return replace(machine, plant=plant, sources=np.ascontiguousarray(sources), reheat=reheat)


def _share_with(machine: Machine, solve: Solve, capacity_W: float) -> float | None:
    ledger = solve(with_coil(machine, capacity_W))
    recovered = float(column(ledger, "reheat_recovered_kWh").sum())
    reheat = recovered + float(column(ledger, "reheat_new_energy_kWh").sum())
    return recovered / reheat if reheat > 0.0 else None


def coil_size(
    machine: Machine,
    annual: dict[str, Any],
    ledger: FloatArray,
    allowance: Allowance,
    solve: Solve,
    display: Display,
) -> CoilSize:
    """How much smaller or larger the condenser-heat coil could be before the answer changes."""
    varies = machine.plant.flow.kind == VARIABLE_FLOW and machine.control.outdoor_unit.used == 0
    threshold = recovered_share_threshold(allowance.code, allowance.edition, varies)
    if threshold is None:
        return CoilSize(
            None, None, "The code asks for no recovered share, so no coil size decides."
        )
    buys = any(source.buys for source in machine.reheat)
    if machine.plant.drying_effectiveness > 0.0 and machine.plant.recovery_effectiveness == 0.0:
        return CoilSize(
            threshold, None, "The recovered heat comes from no condenser-heat coil to be sized."
        )
    has_coil = machine.plant.recovery_effectiveness > 0.0
    if not machine.reheat or (not has_coil and annual["reheat_new_energy_kWh"] <= 0.0):
        return CoilSize(threshold, None, "No reheat occurred, so no coil size decides.")
    largest_given_W = _largest_given_W(ledger)
    if not buys:
        size = show(largest_given_W, "heat flow", display)
        return CoilSize(
            threshold,
            None,
            "Nothing is bought beside the condenser heat, so the recovered share is 100 % with a "
            f"coil of any size; one below {size}, the most it gave in any hour, would leave heat "
            "short or the room wetter instead.",
        )
    rejected_W = machine.unit.rated_rejected_W
    evaluate = partial(_share_with, machine, solve)
    if not has_coil:
        answer = smallest_coil(
            evaluate, threshold, rejected_W, COIL_TOLERANCE * rejected_W, None, display
        )
        if answer.capacity_W is None:
            return CoilSize(
                threshold, answer, f"Condenser heat ahead of it would not do. {answer.sentence}"
            )
        size = show(answer.capacity_W, "heat flow", display)
        return CoilSize(
            threshold,
            answer,
            f"A condenser-heat coil of {size} put ahead of the bought heat (effectiveness "
            f"{100.0 * ADDED_EFFECTIVENESS:.0f} %) would recover {100.0 * threshold:.0f} % "
            "and meet the rule.",
        )
    stated_W = machine.plant.recovery_capacity_W
    limited = stated_W < rejected_W
    designed_W = stated_W if limited else largest_given_W
    largest_W = rejected_W if limited else max(largest_given_W, 1.0)
    answer = smallest_coil(
        evaluate, threshold, largest_W, COIL_TOLERANCE * largest_W, designed_W, display
    )
    sentence = answer.sentence
    if not limited:
        size = show(largest_given_W, "heat flow", display)
        sentence += (
            f" The case states no size; “designed” is {size}, the most the coil gave in any hour."
        )
    return CoilSize(threshold, answer, sentence)


def _largest_given_W(ledger: FloatArray) -> float:
    """The most condenser heat given while the compressor ran, W."""
    given = 1000.0 * column(ledger, "reheat_recovered_kWh")
    runtime = column(ledger, "compressor_runtime_frac")
    rate = np.divide(given, runtime, out=np.zeros_like(given), where=runtime > 0.0)
    return float(rate.max())
