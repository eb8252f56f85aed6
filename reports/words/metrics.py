"""What is compared between options, as one table; and the answer of a study in sentences.

The page, the workbook and the terminal show the rows of ``METRICS``; each names a key of the annual
account, so that every figure can be traced to summary.json.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from dewledger.quantities import Display
from dewledger.reports.words.numbers import NONE, figure, words

if TYPE_CHECKING:
    from dewledger.study import OptionYear, Study


@dataclass(frozen=True)
class Metric:
    """One line of the comparison: a key of the annual account and how it is shown."""

    key: str
    kind: str
    label: str
    group: str


_HEAT = "Heat moved in the year"
_PURCHASED = "Energy purchased in the year"
_ROOM = "The room"

METRICS: tuple[Metric, ...] = (
    Metric("cooling_total_kWh", "heat", "Cooling done by the coil", _HEAT),
    Metric("cooling_latent_kWh", "heat", "of which drying (latent)", _HEAT),
    Metric("overcooling_heat_kWh", "heat", "Overcooling heat from drying", _HEAT),
    Metric("reheat_recovered_kWh", "heat", "given back by recovered heat", _HEAT),
    Metric("reheat_purchased_kWh", "heat", "given back by purchased heat", _HEAT),
    Metric("reheat_unmet_kWh", "heat", "reheat: unmet", _HEAT),
    Metric("recovered_share", "share", "Recovered share of reheat", _HEAT),
    Metric("heating_kWh", "heat", "Space heating", _HEAT),
    Metric("room_cooling_kWh", "heat", "Cooling of the room beside the unit", _HEAT),
    Metric("electricity_kWh", "electricity", "Electricity, all uses", _PURCHASED),
    Metric("compressor_kWh", "electricity", "Compressor", _PURCHASED),
    Metric("condenser_fan_kWh", "electricity", "Outdoor-coil fan", _PURCHASED),
    Metric("supply_fan_kWh", "electricity", "Supply fan", _PURCHASED),
    Metric("reheat_purchased_electricity_kWh", "electricity", "Reheat electricity", _PURCHASED),
    Metric("heating_purchased_electricity_kWh", "electricity", "Heating electricity", _PURCHASED),
    Metric("room_cooling_electricity_kWh", "electricity", "Room cooling", _PURCHASED),
    Metric("outdoor_recovery_power_kWh", "electricity", "Recovery device", _PURCHASED),
    Metric("humidifier_electricity_kWh", "electricity", "Humidifier electricity", _PURCHASED),
    Metric("gas_kWh", "gas", "Gas, all uses", _PURCHASED),
    Metric("reheat_purchased_gas_kWh", "gas", "Reheat gas", _PURCHASED),
    Metric("heating_purchased_gas_kWh", "gas", "Heating gas", _PURCHASED),
    Metric("humidifier_gas_kWh", "gas", "Humidifier gas", _PURCHASED),
    Metric("neutral_air_electricity_kWh", "electricity", "Cost of warm neutral air", _PURCHASED),
    Metric("avoided_electricity_kWh", "electricity", "Avoided reheat electricity", _PURCHASED),
    Metric("avoided_gas_kWh", "gas", "Avoided reheat gas", _PURCHASED),
    Metric("recovery_penalty_kWh", "electricity", "Recovery penalty", _PURCHASED),
    Metric("hours_above_range", "hours", "Hours above range", _ROOM),
    Metric("hours_above_range_occupied", "hours", "of which occupied", _ROOM),
    Metric("longest_spell_above_h", "hours", "Longest spell above range", _ROOM),
    Metric("hours_below_range", "hours", "Hours below range", _ROOM),
    Metric("condensate_kg", "water", "Water taken from the air", _ROOM),
    Metric("humidifier_kg", "water", "Water added by the humidifier", _ROOM),
)
BY_KEY = {metric.key: metric for metric in METRICS}
# Lines that say how a total above them divides; shown indented.
PARTS = {
    "cooling_latent_kWh",
    "reheat_recovered_kWh",
    "reheat_purchased_kWh",
    "reheat_unmet_kWh",
    "compressor_kWh",
    "condenser_fan_kWh",
    "supply_fan_kWh",
    "reheat_purchased_electricity_kWh",
    "heating_purchased_electricity_kWh",
    "room_cooling_electricity_kWh",
    "outdoor_recovery_power_kWh",
    "humidifier_electricity_kWh",
    "reheat_purchased_gas_kWh",
    "heating_purchased_gas_kWh",
    "humidifier_gas_kWh",
    "hours_above_range_occupied",
}
# The few columns of the short comparison: page one and the terminal.
SHORT = (
    "electricity_kWh",
    "gas_kWh",
    "overcooling_heat_kWh",
    "reheat_recovered_kWh",
    "reheat_purchased_kWh",
    "reheat_unmet_kWh",
    "hours_above_range",
    "hours_below_range",
)
SHORT_HEADS = {
    "electricity_kWh": "Electricity purchased",
    "gas_kWh": "Gas purchased",
    "overcooling_heat_kWh": "Overcooling heat",
    "reheat_recovered_kWh": "Reheat recovered",
    "reheat_purchased_kWh": "Reheat purchased",
    "reheat_unmet_kWh": "Reheat short",
    "hours_above_range": "Hours above range",
    "hours_below_range": "Hours below range",
    "site_kWh": "Purchased, against reference",
}


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


def range_words(study: Study) -> str:
    """The humidity range that hours are counted against: "40–55 % RH"."""
    humidity = study.case.humidity
    return (
        f"{figure(float(humidity.range_low), 'share', 'SI')}–"
        f"{figure(float(humidity.range_high), 'share', 'SI')} % RH"
    )


def limit_words(study: Study) -> str:
    """The upper end of the range: "55 % RH"."""
    return f"{figure(float(study.case.humidity.range_high), 'share', 'SI')} % RH"


def controlled(option: OptionYear) -> bool:
    """Whether the option has humidity control at all; an outdoor-air unit holds a dew point."""
    case = option.option.case
    return case.humidity.control != "none" or case.outdoor_air_unit is not None


def best_option(study: Study) -> OptionYear | None:
    """The option the answer speaks of: the one that buys least among those that keep the room.

    Candidates have humidity control and are not the reference. One that leaves the room above its
    range for over half as many hours again as the best of them (and over a day more), or gives too
    little heat back while others do not, is no answer, however little it buys.
    """
    candidates = [o for o in study.options if controlled(o) and o.key != study.reference.key]
    if not candidates:
        return None
    above = {o.key: int(o.annual["hours_above_range"]) for o in candidates}
    fewest = min(above.values())
    whole = [o for o in candidates if not _leaves_short(o)] or candidates
    kept = [o for o in whole if above[o.key] <= max(1.5 * fewest, fewest + 24)]
    return min(kept or whole, key=site_kWh)


def answer(study: Study, display: Display) -> list[str]:
    """The answer of a study in two sentences, and a third on what is left out of range."""
    reference = study.reference
    best = best_option(study)
    sentences = [_before(study, display)]
    if best is not None:
        sentences.append(_against(best, reference, display))
    left = _left(best or reference)
    return [*sentences, left] if left else sentences


def _name(option: OptionYear) -> str:
    return f"“{option.title}”"


def _before(study: Study, display: Display) -> str:
    reference = study.reference
    plain = next((o for o in study.options if not controlled(o)), None)
    span = limit_words(study)
    hours = words(reference.annual["hours_above_range"], "hours", display)
    if plain is None:
        buys = _reheat(reference, display)
        return f"{_named(reference)} leaves the room above {span} for {hours} of the year{buys}."
    before = words(plain.annual["hours_above_range"], "hours", display)
    first = f"{_named(plain)} leaves the room above {span} for {before} of the year"
    if plain.key == reference.key:
        return f"{first}; it is the reference, and buys {_purchases(reference, display)}."
    buys = _reheat(reference, display)
    return f"{first}; {_name(reference)}, the reference, leaves {hours}{buys}."


def _named(option: OptionYear) -> str:
    return f"Option {_name(option)}"


def _reheat(option: OptionYear, display: Display) -> str:
    purchased = option.annual["reheat_purchased_kWh"]
    if figure(purchased, "heat", display) == "0":
        return ""
    return f" and buys {words(purchased, 'heat', display)} of reheat"


def _purchases(option: OptionYear, display: Display) -> str:
    parts = [f"{words(option.annual['electricity_kWh'], 'electricity', display)} of electricity"]
    if option.annual["gas_kWh"] > 0.0:
        parts.append(f"{words(option.annual['gas_kWh'], 'gas', display)} of gas")
    return " and ".join(parts)


def _change(saved: float, kind: str, what: str, display: Display) -> tuple[bool, str] | None:
    """(whether it saves, "15,300 kWh of electricity"), or None where there is no difference."""
    if figure(saved, kind, display) == "0":
        return None
    return saved > 0.0, f"{words(abs(saved), kind, display)} of {what}"


def _against(best: OptionYear, reference: OptionYear, display: Display) -> str:
    """What the best option gives back and saves, in one sentence."""
    share = best.annual["recovered_share"]
    recovered = best.annual["reheat_recovered_kWh"]
    lead = _named(best)
    if share and figure(recovered, "heat", display) != "0":
        lead += (
            f" takes {figure(share, 'share', display)} % of its reheat, "
            f"{words(recovered, 'heat', display)}, from heat the unit would otherwise throw "
            "outdoors, and"
        )
    changes = [
        _change(reference.annual[f"{what}_kWh"] - best.annual[f"{what}_kWh"], what, what, display)
        for what in ("electricity", "gas")
    ]
    saves = " and ".join(text for saved, text in filter(None, changes) if saved)
    costs = " and ".join(text for saved, text in filter(None, changes) if not saved)
    if saves and costs:
        effect = f"saves {saves} a year against the reference but buys {costs} more"
    elif saves:
        part = site_change(best, reference)
        percent = ""
        if part is not None:
            percent = f", {figure(abs(part), 'share', display)} % of all energy it buys"
        effect = f"saves {saves} a year against the reference{percent}"
    elif costs:
        effect = f"buys {costs} a year more than the reference"
    else:
        effect = "buys as much as the reference"
    hours = words(best.annual["hours_above_range"], "hours", display)
    short = _short(best, display)
    return f"{lead} {effect}; it leaves {hours} above range{short}."


def _leaves_short(option: OptionYear) -> bool:
    """Whether an option saves by not giving heat back: over a fiftieth of the overcooling."""
    annual = option.annual
    return bool(annual["reheat_unmet_kWh"] > 0.02 * annual["overcooling_heat_kWh"])


def _short(option: OptionYear, display: Display) -> str:
    if not _leaves_short(option):
        return ""
    short = words(option.annual["reheat_unmet_kWh"], "heat", display)
    return (
        f" and does not give back {short} of overcooling heat, so that the "
        "room is at times cooler than asked"
    )


_REMEDY = {
    "system off": "the schedule keeps the unit off then; running it would mend them",
    "no humidity control": "nothing asks for drying then; a humidity control would mend them",
    "coil-surface floor": "the coil would freeze if it were run colder",
    "unit at full capacity": "the unit runs at full capacity then, and reheat adds no drying; "
    "only more capacity or less moisture would mend them",
    "reheat short": "reheat cannot give back what more drying would overcool; "
    "more reheat capacity would mend them",
    "within its limit": "control is met then, but its limit lies outside the range",
    "too dry": "the air is drier than the range and nothing adds moisture",
}


def _left(option: OptionYear) -> str:
    """Why the option is still out of range, mostly."""
    causes: dict[str, Any] = option.annual["hours_out_by_cause"]
    total = sum(causes.values())
    if total == 0:
        return ""
    name = max(causes, key=lambda cause: causes[cause])
    where = "below range" if name == "too dry" else "above range"
    return (
        f"Of the {total:,} hours it is out of range, {causes[name]:,} are {where} because "
        f"{_REMEDY.get(name, name)}."
    )
