"""What a study says to those who sign: the energy code, the humidity criteria, mold.

The code findings come from codes/determination.py on the facts of codes/facts_of_year.py, the
criteria from accounts/humidity_criteria.py.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from dewledger.accounts import humidity_criteria as humidity
from dewledger.accounts.energy import added, column
from dewledger.accounts.option_year import OptionYear
from dewledger.analysis.coil_for_code import CoilSize, coil_size
from dewledger.analysis.coil_trials import CoilTrials
from dewledger.analysis.plausible import Implausible, implausible
from dewledger.analysis.protection import ProtectionFinding, protection
from dewledger.case import OptionCase
from dewledger.case.humidity import OwnCriterion
from dewledger.codes.determination import (
    Allowance,
    Determination,
    determine,
)
from dewledger.codes.facts_of_year import reheat_facts
from dewledger.codes.rating_standards import Comparison, YearEfficiency, year_efficiency
from dewledger.data.humidity_criteria import Criterion, criterion
from dewledger.quantities import Display, show
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import WeatherYear

ASSUMED = Allowance(code="90.1", edition="2019")


@dataclass(frozen=True)
class Judgment:
    """One option judged.

    code_assumed : the case names no code, so one is assumed
    own_range : the year against the case's own humidity range
    criteria : and against the published criteria that the case names
    efficiency : moisture removed over the energy charged to it, by month
    protection : what must not pass unread, for people's sake
    implausible : figures of the case that are far from the usual
    """

    code_assumed: bool
    determination: Determination
    coil: CoilSize
    own_range: humidity.Finding
    criteria: tuple[humidity.Finding, ...]
    mold: humidity.MoldFinding
    efficiency: YearEfficiency
    protection: tuple[ProtectionFinding, ...]
    implausible: tuple[Implausible, ...]


def judge_option(
    solved: OptionYear,
    reference: OptionYear,
    year: WeatherYear,
    trials: CoilTrials,
    display: Display,
    comparisons: tuple[Comparison, ...] = (),
) -> Judgment:
    """Judge one option's year.

    Parameters
    ----------
    reference : the reference option, which stands for the code's baseline
    trials : solves years with other coils, for the size of the coil
    comparisons : the unit's ratings, as modeled, against the minimum values of codes
    """
    option, machine, ledger, annual = solved.option, solved.machine, solved.ledger, solved.annual
    stated = option.case.allowance
    allowance = stated or ASSUMED
    base = (reference.machine, reference.ledger)
    facts = reheat_facts(option, machine, ledger, annual, base, allowance, comparisons)
    occupied = machine.calendar.occupied
    month = year.arrays["month"].astype(np.int64)
    room = humidity.RoomAir(
        column(ledger, "room_temp_C"),
        column(ledger, "room_hum_ratio_kg_kg"),
        column(ledger, "room_rh_frac"),
        year.arrays["pressure_Pa"],
    )

    def held(criterion: Criterion) -> humidity.Finding:
        return humidity.evaluate(
            criterion,
            room,
            occupied,
            month,
            year.arrays["temp_dew_C"],
            year.station.dehumidification_dew_point_C,
        )

    settings = option.case.humidity
    own = Criterion(
        "own-range",
        "The case’s own range",
        "relative humidity",
        float(settings.range_low),
        float(settings.range_high),
    )
    determination = determine(allowance, facts, display, comparisons)
    coil = coil_size(machine, annual, ledger, allowance, trials, display)
    return Judgment(
        stated is None,
        determination,
        replace(coil, sentence=_whatever_the_coil(determination) + coil.sentence),
        held(own),
        tuple(
            held(criterion)
            for criterion in (
                *(criterion(key) for key in settings.criteria),
                *(_own(place, one) for place, one in enumerate(settings.own_criteria, 1)),
            )
        ),
        mold_of(option, ledger, year, display),
        year_efficiency(column(ledger, "condensate_kg"), drying_energy_kWh(ledger), month),
        protection(option, machine, ledger, display, *_recovery_money(annual)),
        implausible(option, machine, display),
    )


def _recovery_money(annual: dict[str, Any]) -> tuple[float | None, float | None]:
    """What the recovered heat would have cost to purchase, and what the recovery penalty costs, at
    the mean prices of the option's own bill; None where it purchases none of what is priced.
    """

    def price(carrier: str) -> float | None:
        used, cost = annual.get(f"{carrier}_kWh", 0.0), annual.get(f"{carrier}_cost")
        return cost / used if cost is not None and used > 0.0 else None

    electricity, gas = price("electricity"), price("gas")
    avoided_gas = annual.get("avoided_gas_kWh", 0.0)
    if electricity is None or (gas is None and avoided_gas > 0.0):
        return None, None
    worth = annual.get("avoided_electricity_kWh", 0.0) * electricity + avoided_gas * (gas or 0.0)
    return worth, annual["recovery_penalty_kWh"] * electricity


def _own(place: int, stated: OwnCriterion) -> Criterion:
    """A criterion of the case's own."""
    low, high = stated.limits()
    temp_low, temp_high = stated.temperature_low, stated.temperature_high
    return Criterion(
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
        "stated in the case",
    )


def _whatever_the_coil(determination: Determination) -> str:
    """That no coil decides the answer, where an exception is met that needs no recovered heat;
    empty where it does."""
    items = [
        one.item
        for one in determination.exceptions
        if one.verdict == "met" and one.test not in ("recovered_share", "process_space")
    ]
    if not items:
        return ""
    met = f"Exception {items[0]} is" if len(items) == 1 else f"Exceptions {', '.join(items)} are"
    return f"{met} met whatever the coil. "


def drying_energy_kWh(ledger: FloatArray) -> FloatArray:
    """Compressor, fans and purchased reheat of each hour: what AHRI 920 counts."""
    names = (
        "compressor_kWh",
        "condenser_fan_kWh",
        "supply_fan_kWh",
        "reheat_coil_fan_kWh",
        "reheat_purchased_electricity_kWh",
        "reheat_purchased_gas_kWh",
    )
    return added(ledger, names)


def mold_of(
    option: OptionCase, ledger: FloatArray, year: WeatherYear, display: Display
) -> humidity.MoldFinding:
    """The mold screen of an option's year, on the cold surface that its case names."""
    temp, w = column(ledger, "room_temp_C"), column(ledger, "room_hum_ratio_kg_kg")
    pressure = year.arrays["pressure_Pa"]
    month = year.arrays["month"].astype(np.int64)
    settings = option.case.humidity
    stated = settings.cold_surface_temperature
    if stated is not None:
        words = f"a surface kept at {show(float(stated), 'temperature', display)}"
        return humidity.mold(float(stated), temp, w, pressure, month, words)
    factor = float(settings.cold_surface_factor)
    outdoor = column(ledger, "outdoor_temp_C")
    surface = humidity.surface_temp_from_factor(temp, outdoor, factor)
    words = f"an inside surface {100.0 * factor:.0f} % of the way from outdoor to room temperature"
    return humidity.mold(surface, temp, w, pressure, month, words)


# ---------------------------------------------------------------------------------------------
# Size of the condenser-heat coil
