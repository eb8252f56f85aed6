"""What is compared between options, as one table.

The page, the workbook and the terminal show the rows of ``METRICS``; each names a key of the annual
account, so that every figure can be traced to summary.json. Labels of what the ledger sums, and
which of it is purchased, come from the ledger's own table of columns.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from dewledger.hourly.ledger import BY_NAME, PURCHASED, Carrier
from dewledger.reports.words.numbers import NONE, figure

if TYPE_CHECKING:
    from dewledger.accounts.option_year import OptionYear
    from dewledger.study import Study


@dataclass(frozen=True)
class Metric:
    """One line of the comparison: a key of the annual account and how it is shown.

    part : a part of a total above it
    """

    key: str
    kind: str
    label: str
    group: str
    part: bool = False


_HEAT = "Annual heat"
_ENERGY = "Annual site energy"
_AVOIDED = "Effect of heat recovery"
_BINDING = "Hours in which a control binds"
_ROOM = "The room"


def _ledger(key: str, kind: str, group: str, part: bool = False) -> Metric:
    return Metric(key, kind, BY_NAME[key].label, group, part)


def _purchased(carrier: Carrier) -> list[Metric]:
    """A line for each end use of one carrier; together they are its total."""
    return [_ledger(c.name, carrier, _ENERGY, True) for c in PURCHASED if c.carrier == carrier]


# Controls of condenser heat whose hours are counted.
_CONTROLS = ("lockout", "valve", "purge", "circuits", "fans")

METRICS: tuple[Metric, ...] = (
    _ledger("cooling_total_kWh", "heat", _HEAT),
    _ledger("cooling_latent_kWh", "heat", _HEAT, True),
    _ledger("overcooling_heat_kWh", "heat", _HEAT),
    _ledger("reheat_recovered_kWh", "heat", _HEAT, True),
    _ledger("reheat_purchased_kWh", "heat", _HEAT, True),
    _ledger("reheat_unmet_kWh", "heat", _HEAT, True),
    Metric("recovered_share", "share", "Recovered share of reheat", _HEAT),
    _ledger("heating_kWh", "heat", _HEAT),
    _ledger("room_cooling_kWh", "heat", _HEAT),
    Metric("electricity_kWh", "electricity", "Electricity, total", _ENERGY),
    *_purchased("electricity"),
    Metric("gas_kWh", "gas", "Gas, total", _ENERGY),
    *_purchased("gas"),
    Metric("site_kWh", "energy", "Site energy (electricity + gas)", _ENERGY),
    Metric("source_kWh", "energy", "Source energy", _ENERGY),
    _ledger("neutral_air_electricity_kWh", "electricity", _AVOIDED),
    Metric("avoided_electricity_kWh", "electricity", "Avoided reheat electricity", _AVOIDED),
    Metric("avoided_gas_kWh", "gas", "Avoided reheat gas", _AVOIDED),
    _ledger("recovery_penalty_kWh", "electricity", _AVOIDED),
    Metric("hours_at_reheat_floor", "hours", "Hours at minimum condensing, reheat", _AVOIDED),
    *(_ledger(f"reheat_{name}_flag", "hours", _AVOIDED) for name in _CONTROLS),
    Metric("hours_at_condensing_floor", "hours", "Hours at minimum condensing, ordinary", _BINDING),
    Metric("hours_cycled_by_differential", "hours", "Hours cycled by the differential", _BINDING),
    Metric("hours_cycled_by_least_run", "hours", "Hours cycled by the least run", _BINDING),
    Metric("hours_above_range", "hours", "Hours > {high} % RH", _ROOM),
    Metric("hours_above_range_occupied", "hours", "of which occupied", _ROOM, True),
    Metric("longest_spell_above_h", "hours", "Longest consecutive hours > {high} % RH", _ROOM),
    Metric("hours_below_range", "hours", "Hours < {low} % RH", _ROOM),
    Metric("hours_below_range_occupied", "hours", "of which occupied", _ROOM, True),
    _ledger("condensate_kg", "water", _ROOM),
    _ledger("humidifier_kg", "water", _ROOM),
)
BY_KEY = {metric.key: metric for metric in METRICS}
# The few columns of the short comparison, with their heads: page one and the terminal. A line each
# at the terminal.
SHORT = {
    "electricity_kWh": "electricity",
    "gas_kWh": "gas",
    "overcooling_heat_kWh": "overcool\nheat",
    "reheat_recovered_kWh": "recovered\nreheat",
    "reheat_purchased_kWh": "purchased\nreheat",
    "reheat_unmet_kWh": "unmet\nreheat",
    "hours_above_range": "hours >\n{high} % RH",
    "hours_below_range": "hours <\n{low} % RH",
}
SITE_HEAD = ("site\nenergy", "vs. ref.")


def filled(text: str, study: Study) -> str:
    """A label with the humidity range of the study in it."""
    humidity = study.case.humidity
    low, high = (
        figure(float(value), "share", "SI") for value in (humidity.range_low, humidity.range_high)
    )
    return text.format(low=low, high=high)


def short_head(key: str, study: Study) -> str:
    """The head of a column of the short comparison, in two lines at most."""
    return filled(SHORT[key], study)


def shown_metrics(study: Study) -> list[Metric]:
    """The lines worth showing: those that are not nothing in every option."""
    return [
        metric
        for metric in METRICS
        if any(
            figure(option.annual[metric.key], metric.kind, study.case.display) not in ("0", NONE)
            for option in study.options
        )
    ]


def short_keys(study: Study) -> list[str]:
    """Keys of the short comparison that are not nothing in every option."""
    kept = {metric.key for metric in shown_metrics(study)}
    needed = {"electricity_kWh", "overcooling_heat_kWh", "hours_above_range"}
    return [key for key in SHORT if key in kept or key in needed]


def site_kWh(option: OptionYear) -> float:
    """Electricity and gas as they cross the meter."""
    return float(option.annual["electricity_kWh"] + option.annual["gas_kWh"])


def site_change(option: OptionYear, reference: OptionYear) -> float | None:
    """Energy purchased against the reference, as a fraction of the reference's."""
    base = site_kWh(reference)
    return None if base == 0.0 else site_kWh(option) / base - 1.0


def change_text(option: OptionYear, reference: OptionYear) -> str:
    """ "−31 %" against the reference, "reference" for the reference itself."""
    if option.key == reference.key:
        return "reference"
    change = site_change(option, reference)
    return figure(change, "share", "SI", sign=True) + (" %" if change is not None else "")


def limit_words(study: Study) -> str:
    """The upper end of the range: "55 % RH"."""
    return f"{figure(float(study.case.humidity.range_high), 'share', 'SI')} % RH"


def controlled(option: OptionYear) -> bool:
    """Whether the option has humidity control at all; an outdoor-air unit holds a dew point."""
    case = option.option.case
    return case.humidity.control != "none" or case.outdoor_air_unit is not None


def leaves_unmet(option: OptionYear) -> bool:
    """Whether an option saves by leaving reheat unmet: over a fiftieth of the overcooling heat."""
    annual = option.annual
    return bool(annual["reheat_unmet_kWh"] > 0.02 * annual["overcooling_heat_kWh"])


def holds_worse(option: OptionYear, reference: OptionYear) -> bool:
    """Whether an option holds the room worse than the reference, so that its saving is no credit.

    More hours above or below the range by over a day and a tenth, or reheat left unmet that the
    reference meets.
    """
    if leaves_unmet(option) and not leaves_unmet(reference):
        return True
    return any(
        option.annual[key] > 1.1 * reference.annual[key] + 24
        for key in ("hours_above_range", "hours_below_range")
    )


def best_option(study: Study) -> OptionYear | None:
    """The option the answer names: the least site energy among those that hold the room.

    Candidates have humidity control and are not the reference. One that leaves the room above its
    range for over half as many hours again as the best of them (and over a day more), leaves reheat
    unmet while others do not, or holds the room worse than the reference while others do not, is no
    answer, however little it purchases.
    """
    candidates = [o for o in study.options if controlled(o) and o.key != study.reference.key]
    if not candidates:
        return None
    candidates = [o for o in candidates if not holds_worse(o, study.reference)] or candidates
    above = {o.key: int(o.annual["hours_above_range"]) for o in candidates}
    fewest = min(above.values())
    whole = [o for o in candidates if not leaves_unmet(o)] or candidates
    kept = [o for o in whole if above[o.key] <= max(1.5 * fewest, fewest + 24)]
    return min(kept or whole, key=site_kWh)
