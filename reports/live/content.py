"""What the page shows of a study, as plain data: sentences, tables, pictures, the map of a year."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from dewledger.accounts.energy import column
from dewledger.quantities import Display
from dewledger.reports.live.session import Kept, Session, differing, drawing
from dewledger.weather.errors import InputError

if TYPE_CHECKING:
    from dewledger.reports.charts.parts import Chart
    from dewledger.reports.page.parts import Table
    from dewledger.study import Progress, Study

BAND_DRAWS = 100
_SENTENCES = 3


def answer_content(study: Study, display: Display) -> dict[str, Any]:
    """Sentences and table of a study, as the page takes them."""
    from dewledger.reports.page.tables import short_table

    return {
        "title": study.case.title,
        "display": display,
        "place": study.weather.station.title,
        "table": table_content(short_table(study, display)),
        "options": [{"key": o.key, "title": o.title} for o in study.options],
        "reference": study.reference.key,
    } | sentences_content(study, display)


def sentences_content(study: Study, display: Display) -> dict[str, Any]:
    """The answer in three sentences, and what more is to say."""
    from dewledger.reports.words.answer import answer
    from dewledger.reports.words.money import money_sentence

    sentences = answer(study, display)
    more = [*filter(None, [money_sentence(study)]), *sentences[_SENTENCES:]]
    return {"sentences": sentences[:_SENTENCES], "more": more}


def verdict_content(study: Study, display: Display) -> dict[str, Any]:
    """What the energy code says of every option, what must not pass unread, and the answer again,
    which names a reference that does not comply."""
    from dewledger.reports.page.cautions import caution_lines

    found = [(option.title, study.judgments[option.key].determination) for option in study.options]
    return {
        "verdicts": [
            {"title": title, "short": one.short, "why": one.sentence} for title, one in found
        ],
        "cautions": caution_lines(study),
    } | sentences_content(study, display)


def table_content(table: Table) -> dict[str, Any]:
    """A table of the report as plain data."""
    return {
        "caption": table.caption,
        "heads": [{"text": h.text, "unit": h.unit, "number": h.number} for h in table.heads],
        "rows": [
            {
                "head": row.head,
                "marked": row.marked,
                "cells": [{"text": c.text, "number": c.number} for c in row.cells],
            }
            for row in table.rows
        ],
        "note": table.note,
    }


def comparison_content(kept: Kept, study: Study, display: Display) -> dict[str, Any]:
    """The state now against the kept one: what differs in it, and by how much each option."""
    from dewledger.reports.page.parts import Cell, Head, Row, Table
    from dewledger.reports.words.metrics import BY_KEY, short_head
    from dewledger.reports.words.money import amount
    from dewledger.reports.words.numbers import figure, unit_of

    keys = (
        "electricity_kWh", "gas_kWh", "reheat_recovered_kWh", "reheat_purchased_kWh",
        "hours_above_range", "hours_below_range",
    )  # fmt: skip
    heads = []
    for key in keys:
        text = short_head(key, study).replace("\n", " ")
        kind = BY_KEY[key].kind
        heads.append(Head(f"{text[:1].upper()}{text[1:]}", unit_of(kind, display)))
    rows = []
    for option in study.options:
        before = kept.annuals.get(option.key)
        if before is None:
            rows.append(Row(option.title, (Cell("not in the kept state"), *[Cell("")] * len(keys))))
            continue
        cells = [
            Cell(
                figure(
                    float(option.annual[key]) - float(before[key]),
                    BY_KEY[key].kind, display, sign=True,
                ),
                True,
            )
            for key in keys
        ]  # fmt: skip
        more = sum(
            float(option.annual[name]) - float(before[name])
            for name in ("energy_cost", "upkeep_cost")
        )
        said = amount(more)
        cells.append(Cell(f"+{said}" if more > 0.0 and said != "0" else said, True))
        rows.append(Row(option.title, tuple(cells)))
    table = Table(
        "Now less the kept state",
        (Head("Option", number=False), *heads, Head("Annual cost", study.money.currency)),
        tuple(rows),
        note="A minus is less than in the kept state.",
    )
    return {"differs": differing(kept.case, study.case), "table": table_content(table)}


def year_map(study: Study, key: str) -> dict[str, Any]:
    """Room humidity of every hour of an option in half percents, for the page's map of the year."""
    option = next((o for o in study.options if o.key == key), study.options[-1])
    half = np.clip(np.rint(200.0 * column(option.ledger, "room_rh_frac")), 0, 200).astype(np.uint8)
    return {
        "option": option.key,
        "title": option.title,
        "values": base64.b64encode(half.tobytes()).decode("ascii"),
        "low": 100.0 * option.machine.range_low,
        "high": 100.0 * option.machine.range_high,
    }


def pictures(study: Study, display: Display) -> Iterator[tuple[str, dict[str, str]]]:
    """The page's charts as SVG by name, with their words, one after the other."""
    from dewledger.reports.charts.hourly import duration
    from dewledger.reports.charts.study import monthly_energy, reheat_origin

    for draw in (reheat_origin, duration, monthly_energy):
        with drawing:
            chart = draw(study, display)
            drawn = None if chart is None else _drawn(chart)
        if chart is not None and drawn is not None:
            yield chart.name, drawn


def _drawn(chart: Chart) -> dict[str, str]:
    return {
        "svg": chart.svg(),
        "alt": chart.alt,
        "title": chart.title,
        "caption": chart.caption,
    }


def hour_picture(study: Study, key: str, hour: int, display: Display) -> dict[str, str]:
    """One hour on the psychrometric chart, and its states in words."""
    from dewledger.accounts.energy import hour_label
    from dewledger.reports.diagrams.hour import hour_chart
    from dewledger.views.hour import detail_at
    from dewledger.views.hour_choice import FoundHour

    option = next((o for o in study.options if o.key == key), None)
    if option is None or not 0 <= hour < 8760:
        raise InputError("there is no such hour of such an option")
    when = hour_label(study.weather, hour)
    with drawing:
        detail = detail_at(option.ledger, option.machine, study.weather, hour, display)
        place = study.weather.station.name
        found = FoundHour(option.option, detail, option.machine, hour, place, study.weather)
        drawn = _drawn(hour_chart(found, display, name="live-hour"))
    return drawn | {"title": f"{option.title}, {when}"}


def band(session: Session, study: Study, progress: Progress) -> list[dict[str, Any]]:
    """P10, P50 and P90 of each option's yearly saving under all assumptions drawn together."""
    from dewledger.analysis.sensitivity import sensitivity_study
    from dewledger.assembly.short_year import short_ledger

    found = sensitivity_study(
        session.case, [study.weather], short_ledger, draws=BAND_DRAWS, seed=1, progress=progress
    )
    return [
        {
            "key": key,
            "title": next(o.title for o in study.options if o.key == key),
            "p10": one.saving_p10,
            "p50": one.saving_p50,
            "p90": one.saving_p90,
            "currency": study.money.currency,
        }
        for key, one in found.likelihood.items()
    ]
