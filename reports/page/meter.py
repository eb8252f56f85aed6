"""The owner's bills and trends against the model: a section of the page, content of the summary."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from dewledger.analysis.assumed_ranges import value_text
from dewledger.analysis.meter.comparison import (
    CV_RMSE_LIMIT,
    FIT_IS_NO_PROOF,
    LIMITS_SOURCE,
    LIMITS_STANDING,
    NMBE_LIMIT,
)
from dewledger.quantities import Display, rounded
from dewledger.reports.charts.meter import bills_chart
from dewledger.reports.page.parts import Cell, Head, Row, Section, Table, picture_of

if TYPE_CHECKING:
    from dewledger.accounts.option_year import OptionYear
    from dewledger.analysis.meter.calibration import Band
    from dewledger.analysis.meter.comparison import Fit, MeterComparison
    from dewledger.analysis.meter.trends import TrendComparison
    from dewledger.study import Study

_MEASURED = {
    "room_temperature": "Room dry bulb",
    "room_relative_humidity": "Room relative humidity",
    "supply_temperature": "Supply air dry bulb",
    "outdoor_temperature": "Outdoor dry bulb",
    "compressor": "Compressor runtime",
}


def _title(study: Study, key: str) -> str:
    return next(option.title for option in study.options if option.key == key)


def _fit_words(fit: Fit, of: str) -> str:
    verdict = "within" if fit.within_limits else "outside"
    low = "below" if fit.nmbe > 0.0 else "above"
    explained = (
        ""
        if fit.explained is None
        else f" The model follows {100.0 * max(fit.explained, 0.0):.0f} % of the variance between "
        "bills."
    )
    return (
        f"Modeled {of} is {abs(100.0 * fit.nmbe):.1f} % {low} the bills (NMBE "
        f"{100.0 * fit.nmbe:+.1f} %), with a CV(RMSE) of {100.0 * fit.cv_rmse:.1f} % over "
        f"{fit.periods} bills: {verdict} the limits of ±{100.0 * NMBE_LIMIT:.0f} % and "
        f"{100.0 * CV_RMSE_LIMIT:.0f} % of {LIMITS_SOURCE} ({LIMITS_STANDING}).{explained}"
    )


def meter_sentences(study: Study) -> list[str]:
    """What the bills say, in sentences."""
    found = study.meter
    if found is None:
        return []
    title = _title(study, found.option)
    sentences = [f"Bills of {found.year} are compared with option “{title}”."]
    if found.electricity is not None:
        sentences.append(_fit_words(found.electricity, "electricity"))
    if found.gas is not None:
        sentences.append(_fit_words(found.gas, "gas"))
    if found.base_kW > 0.0:
        sentences.append(
            f"A steady base load of {rounded(found.base_kW)} kW is fitted for what else runs on "
            "the meter."
        )
    if found.explanations:
        sentences.append(
            "What would bring the bills that do not fit nearer, the best first: "
            f"{'; '.join(found.explanations)}."
        )
    sentences.append(FIT_IS_NO_PROOF)
    return sentences


def calibration_sentences(study: Study) -> list[str]:
    """What the bills leave of the savings, in sentences."""
    found = study.calibration
    if found is None or study.meter is None:
        return []
    from dewledger.views.meter import cost_saving_name, energy_saving_name, normalized

    today = _title(study, study.meter.option)
    sentences = []
    for option in study.options:
        name = energy_saving_name(option.key)
        if name not in found.posterior:
            continue
        energy, cost = found.posterior[name], found.posterior[cost_saving_name(option.key)]
        sentences.append(
            f"Against today’s “{today}”, option “{option.title}” saves {_span(energy)} kWh of site "
            f"energy and {_span(cost)} {study.money.currency} a year (P10 to P90 of the draws that "
            "fit the bills; below zero it uses or costs more): avoided energy in the weather of "
            f"{study.meter.year}, by calibrated simulation (IPMVP option D)."
        )
        if normalized(name) in found.posterior:
            energy = found.posterior[normalized(name)]
            cost = found.posterior[normalized(cost_saving_name(option.key))]
            sentences.append(
                f"Normalized to the typical year, it saves {_span(energy)} kWh and {_span(cost)} "
                f"{study.money.currency} a year."
            )
    sentences.append(
        f"{found.effective_size:.0f} draws in effect carry this, of {found.draws:,} evaluated"
        + (", drawn again around those that fit." if found.refined else ".")
    )
    return [*sentences, *(f"{text[:1].upper()}{text[1:]}." for text in found.warnings)]


def fitted_band(study: Study, option: OptionYear | None) -> str:
    """The band of an option's saving that the bills leave, in one sentence; "" without bills."""
    found = study.calibration
    if option is None or found is None or study.meter is None:
        return ""
    from dewledger.views.meter import cost_saving_name

    band = found.posterior.get(cost_saving_name(option.key))
    if band is None:
        return ""
    doubt = " The bills do not settle it: see the warnings there." if found.warnings else ""
    return (
        f"Of the years that fit the bills, {_span(band)} {study.money.currency} a year against "
        f"today’s “{_title(study, study.meter.option)}” (P10 to P90; section on bills).{doubt}"
    )


def _span(band: Band) -> str:
    return f"{rounded(band.p10)} to {rounded(band.p90)}".replace("-", "−")


def _bills_table(found: MeterComparison) -> Table:
    table = found.monthly
    gas = "gas_measured_kWh" in table
    demand = "demand_kW" in table
    rows = []
    for row in table.to_dict("records"):
        cells = [
            Cell(f"{row['days']}", True),
            *(
                Cell(_number(row.get(name)), True)
                for name in ("measured_kWh", "modeled_kWh", "difference_kWh")
            ),
            Cell("yes" if row.get("fits", True) else "no"),
        ]
        if gas:
            cells += [Cell(_number(row["gas_measured_kWh"]), True)]
            cells += [Cell(_number(row["gas_modeled_kWh"]), True)]
        if demand:
            cells += [Cell(_number(row["demand_kW"]), True)]
            cells += [Cell(_number(row["modeled_peak_kW"]), True)]
        rows.append(Row(f"{row['start']:%Y-%m-%d} to {row['end']:%Y-%m-%d}", tuple(cells)))
    heads = [
        Head("Billing period", number=False),
        Head("Days"),
        Head("Measured", "kWh"),
        Head("Modeled", "kWh"),
        Head("Measured less modeled", "kWh"),
        Head("Fits within 15 %", number=False),
    ]
    if gas:
        heads += [Head("Gas measured", "kWh"), Head("Gas modeled", "kWh")]
    if demand:
        heads += [Head("Demand", "kW"), Head("Highest modeled hour", "kW")]
    return Table("Bills and model by billing period", tuple(heads), tuple(rows))


def _number(value: Any) -> str:
    return "–" if value is None or not np.isfinite(value) else f"{value:,.0f}"


def _inputs_table(study: Study, display: Display) -> Table | None:
    found = study.calibration
    if found is None:
        return None

    def cells(name: str, band: Band) -> list[Cell]:
        values = (band.p10, band.p50, band.p90)
        return [Cell(value_text(name, value, (), display), True) for value in values]

    rows = tuple(
        Row(
            f"{one.name[:1].upper()}{one.name[1:]}",
            (
                *cells(one.name, one.prior),
                *cells(one.name, one.posterior),
                Cell("yes" if one.told_apart else "no"),
            ),
        )
        for one in found.inputs
    )
    return Table(
        "Uncertain inputs before and after the bills",
        (
            Head("Input", number=False),
            *(Head(f"Before: {name}") for name in ("P10", "P50", "P90")),
            *(Head(f"After: {name}") for name in ("P10", "P50", "P90")),
            Head("Narrowed by the bills", number=False),
        ),
        rows,
        note="Per cent of the case’s own value, or the difference from it.",
    )


def _trend_rows(found: TrendComparison, display: Display) -> Table:
    rows = []
    for one in found.agreements:
        if one.what.endswith("temperature"):
            scale, unit = (1.8, "°F") if display == "I-P" else (1.0, "K")
        elif one.what == "compressor":
            scale, unit = 100.0, "% of the hour"
        else:
            scale, unit = 100.0, "% RH"
        rows.append(
            Row(
                _MEASURED[one.what],
                (
                    Cell(f"{one.hours:,}", True),
                    Cell(f"{one.bias * scale:+.2f}".replace("-", "−"), True),
                    Cell(f"{one.scatter * scale:.2f}", True),
                ),
                unit=unit,
            )
        )
    return Table(
        "Trends and model over the same hours",
        (
            Head("Measured", number=False),
            Head("Unit", number=False),
            Head("Hours compared", "h"),
            Head("Bias, measured less modeled"),
            Head("Scatter"),
        ),
        tuple(rows),
        units_in_rows=True,
    )


def trend_sentences(study: Study) -> list[str]:
    """What the trends say, in sentences."""
    found = study.trend
    if found is None:
        return []
    sentences = [
        f"Trends of {found.year} are compared with option “{_title(study, found.option)}” over "
        f"{found.hours_compared:,} hours ({found.samples:,} samples)."
    ]
    if found.hours_above_measured is not None:
        sentences.append(
            f"The room was above its range in {found.hours_above_measured:,} of these hours by the "
            f"sensors and in {found.hours_above_modeled:,} by the model."
        )
    sentences += [f"{text[:1].upper()}{text[1:]}." for text in found.left_out]
    return sentences


def meter_section(study: Study, display: Display) -> Section | None:
    """Bills, trends and what they leave of the answer; None where there are none."""
    if study.meter is None and study.trend is None:
        return None
    tables: list[Table] = []
    pictures = []
    if study.meter is not None:
        tables.append(_bills_table(study.meter))
        if study.meter.electricity is not None:
            pictures.append(picture_of(bills_chart(study.meter, _title(study, study.meter.option))))
    inputs = _inputs_table(study, display)
    if inputs is not None:
        tables.append(inputs)
    if study.trend is not None:
        tables.append(_trend_rows(study.trend, display))
    return Section(
        "meter",
        "The model against the meter",
        (*meter_sentences(study), *calibration_sentences(study), *trend_sentences(study)),
        tuple(tables),
        tuple(pictures),
    )


def meter_summary(study: Study) -> dict[str, Any] | None:
    """What summary.json says of bills, trends and calibration; None where there are none."""
    if study.meter is None and study.trend is None:
        return None
    content: dict[str, Any] = {"note": FIT_IS_NO_PROOF}
    if study.meter is not None:
        found = study.meter
        content["bills"] = {
            "option": found.option,
            "year": found.year,
            "nmbe": found.nmbe,
            "cv_rmse": found.cv_rmse,
            "electricity": found.electricity,
            "gas": found.gas,
            "base_kW": found.base_kW,
            "explanations": list(found.explanations),
            "limits_source": LIMITS_SOURCE,
            "limits_standing": LIMITS_STANDING,
            "monthly": [
                {k: (f"{v:%Y-%m-%d}" if k in ("start", "end") else v) for k, v in row.items()}
                for row in found.monthly.to_dict("records")
            ],
        }
    if study.calibration is not None:
        cal = study.calibration
        content["calibration"] = {
            "effective_size": cal.effective_size,
            "draws": cal.draws,
            "refined": cal.refined,
            "warnings": list(cal.warnings),
            "inputs": list(cal.inputs),
            "savings": {
                name: {"prior": cal.prior[name], "posterior": band}
                for name, band in cal.posterior.items()
                if "saving" in name
            },
        }  # fmt: skip
    if study.trend is not None:
        content["trend"] = study.trend
    return content
