"""The workbook's sheets of money: bills from price cells, life-cycle cost, sensitivity."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from dewledger.accounts.costs import option_tariff
from dewledger.analysis.sensitivity import saving_name
from dewledger.reports.words.metrics import holds_worse
from dewledger.reports.words.numbers import factor, unit_of

if TYPE_CHECKING:
    from xlsxwriter import Workbook
    from xlsxwriter.format import Format
    from xlsxwriter.worksheet import Worksheet

    from dewledger.accounts.bills import Bill, Tariff
    from dewledger.quantities import Display
    from dewledger.study import Study

_FIRST_YEAR_ROW = 14  # of the life-cycle sheet, zero-based


def money_sheets(book: Workbook, study: Study, look: dict[str, Format]) -> None:
    """Prices and bills, life-cycle cost, and the sensitivity where there is one."""
    totals = _prices(book.add_worksheet("Prices"), study, look)
    _life_cycle(book.add_worksheet("Life cycle"), study, look, totals)
    if study.sensitivity is not None:
        _sensitivity(book.add_worksheet("Sensitivity"), study, look)


def _lines(bill: Bill, rates: Tariff, display: Display) -> list[tuple[str, str, float, str, float]]:
    """Every charge as quantity times price: (what, unit, quantity, unit of price, price)."""
    money = bill.currency
    lines = [
        (f"Electricity, {use.name}", "kWh", use.electricity_kWh, f"{money}/kWh", float(price))
        for use, price in zip(bill.periods, rates.period_prices, strict=True)
    ]
    lines.append(
        ("Billed demand, 12 months", "kW", sum(bill.billed_demand_kW), f"{money}/kW",
         rates.demand_price)
    )  # fmt: skip
    lines.append(
        ("Electricity, fixed", "months", 12.0, f"{money}/month", rates.electricity_monthly)
    )
    gas, per = unit_of("gas", display), factor("gas", display)
    lines.append(("Gas", gas, bill.gas_kWh * per, f"{money}/{gas}", rates.gas_price / per))
    months = 12.0 if bill.gas_kWh > 0.0 else 0.0
    lines.append(("Gas, fixed", "months", months, f"{money}/month", rates.gas_monthly))
    mass, per = unit_of("water", display), factor("water", display)
    lines.append(
        ("Carbon dioxide", mass, bill.carbon_kg * per, f"{money}/{mass}", rates.carbon_price / per)
    )
    return lines


def _prices(sheet: Worksheet, study: Study, look: dict[str, Format]) -> dict[str, dict[str, str]]:
    """Bills of every option from price cells; gives the cells of each option's charges."""
    sheet.write_string(0, 0, "Prices and annual bills", look["title"])
    note = "Change a price: charges, totals and life-cycle cost follow by formula."
    sheet.write_string(1, 0, note, look["quiet"])
    heads = ("Option", "Charge", "Quantity", "Unit", "Price", "Unit of price", "Amount")
    for place, head in enumerate(heads):
        sheet.write_string(3, place, head, look["head"])
    row = 4
    cells: dict[str, dict[str, str]] = {}
    for option in study.options:
        bill = study.money.bills[option.key]
        spans: dict[str, list[int]] = {"electricity": [], "gas": [], "carbon": []}
        rates = option_tariff(option.option, study.case)
        for what, unit, quantity, priced, price in _lines(bill, rates, study.case.display):
            kind = "gas" if what.startswith("Gas") else "electricity"
            spans["carbon" if what.startswith("Carbon") else kind].append(row)
            sheet.write_string(row, 0, option.title, look["text"])
            sheet.write_string(row, 1, what, look["text"])
            sheet.write_number(row, 2, quantity, look["number"])
            sheet.write_string(row, 3, unit, look["quiet"])
            sheet.write_number(row, 4, price, look["fine"])
            sheet.write_string(row, 5, priced, look["quiet"])
            amount = quantity * price
            sheet.write_formula(row, 6, f"=C{row + 1}*E{row + 1}", look["number"], amount)
            row += 1
        sheet.write_string(row, 0, option.title, look["group"])
        sheet.write_string(row, 1, "Total", look["group"])
        first = min(rows[0] for rows in spans.values())
        sheet.write_formula(row, 6, f"=SUM(G{first + 1}:G{row})", look["number"], bill.total)
        cells[option.key] = {
            kind: f"SUM(Prices!$G${rows[0] + 1}:$G${rows[-1] + 1})" for kind, rows in spans.items()
        }
        row += 2
    for place, width in enumerate((30, 28, 14, 9, 12, 14, 14)):
        sheet.set_column(place, place, width)
    return cells


def _life_cycle(
    sheet: Worksheet, study: Study, look: dict[str, Format], charges: dict[str, dict[str, str]]
) -> None:
    """Life-cycle cost and break-even costs by formula from the bills (NIST Handbook 135)."""
    terms = study.money.terms
    currency = study.money.currency
    sheet.write_string(0, 0, "Life-cycle cost", look["title"])
    inputs = (
        ("Life, years", float(terms.life_years), "count"),
        ("Real discount rate", terms.discount_rate, "share"),
        ("Escalation, electricity", terms.escalation_electricity, "share"),
        ("Escalation, gas", terms.escalation_gas, "share"),
    )
    for row, (label, value, shape) in enumerate(inputs, start=2):
        sheet.write_string(row, 0, label, look["text"])
        sheet.write_number(row, 1, value, look[shape])
    factors = (
        ("Present value factor, electricity", "$B$5"),
        ("Present value factor, gas", "$B$6"),
        ("Present value factor, no escalation", "0"),
    )
    for row, (label, cell) in enumerate(factors, start=6):
        rate = (terms.escalation_electricity, terms.escalation_gas, 0.0)[row - 6]
        sheet.write_string(row, 0, label, look["text"])
        q = f"((1+{cell})/(1+$B$4))"
        formula = f"=IF(ABS({q}-1)<0.000000001,$B$3,{q}*(1-{q}^$B$3)/(1-{q}))"
        sheet.write_formula(row, 1, formula, look["fine"], _factor(terms, rate))
    heads = (
        "Option", f"First cost, {currency}", f"Upkeep, {currency}/year",
        "Present value of electricity", "of gas", "of carbon and upkeep",
        "Present value of all running costs", "Break-even added first cost",
        "Break-even first cost", "Life-cycle cost", "Net present value",
    )  # fmt: skip
    top = _FIRST_YEAR_ROW - 1
    for place, head in enumerate(heads):
        sheet.write_string(top, place, head, look["head"])
    keys = [option.key for option in study.options]
    base = _FIRST_YEAR_ROW + keys.index(study.reference.key) + 1
    for row, option in enumerate(study.options, start=_FIRST_YEAR_ROW):
        _life_cycle_row(sheet, row, study, option.key, look, charges[option.key], base)
    note = (
        "Break-even added first cost: what the option may cost more than the reference and still "
        "pay. Empty where a first cost is not stated. A negative one never pays. “holds worse”: "
        "the room is held worse than with the reference, so that no saving is credited."
    )
    sheet.write_string(_FIRST_YEAR_ROW + len(keys) + 1, 0, note, look["quiet"])
    sheet.set_column(0, 0, 34)
    sheet.set_column(1, len(heads) - 1, 15)


# Columns that credit a saving: an option that holds the room worse has none of them.
_AGAINST_REFERENCE = (7, 8, 10)


def _factor(terms: Any, escalation: float) -> float:
    from dewledger.accounts.life_cycle import present_value_factor

    return present_value_factor(terms.discount_rate, terms.life_years, escalation)


def _life_cycle_row(
    sheet: Worksheet,
    row: int,
    study: Study,
    key: str,
    look: dict[str, Format],
    charges: dict[str, str],
    base: int,
) -> None:
    option = next(o for o in study.options if o.key == key)
    bill, found = study.money.bills[key], study.money.life_cycle[key]
    terms, cost = study.money.terms, option.option.case.cost
    at = row + 1
    upkeep = float(cost.upkeep_per_year)
    sheet.write_string(row, 0, option.title, look["text"])
    if cost.first_cost is not None:
        sheet.write_number(row, 1, float(cost.first_cost), look["number"])
    sheet.write_number(row, 2, upkeep, look["number"])
    electricity = bill.electricity_charge * _factor(terms, terms.escalation_electricity)
    gas = bill.gas_charge * _factor(terms, terms.escalation_gas)
    other = (bill.carbon_charge + upkeep) * _factor(terms, 0.0)
    reference = study.reference.option.case.cost.first_cost
    formulas = (
        (f"={charges['electricity']}*$B$7", electricity),
        (f"={charges['gas']}*$B$8", gas),
        (f"=({charges['carbon']}+C{at})*$B$9", other),
        (f"=D{at}+E{at}+F{at}", electricity + gas + other),
        (f"=$G${base}-G{at}", found.break_even_extra_first_cost),
        (
            f'=IF(ISBLANK($B${base}),"",$B${base}+H{at})',
            "" if reference is None else float(reference) + found.break_even_extra_first_cost,
        ),
        (
            f'=IF(ISBLANK(B{at}),"",B{at}+G{at})',
            "" if found.life_cycle_cost.value is None else found.life_cycle_cost.value,
        ),
        (
            f'=IF(OR(ISBLANK(B{at}),ISBLANK($B${base})),"",H{at}-(B{at}-$B${base}))',
            "" if found.net_present_value.value is None else found.net_present_value.value,
        ),
    )
    unequal = key != study.reference.key and holds_worse(option, study.reference)
    for place, (formula, value) in enumerate(formulas, start=3):
        if unequal and place in _AGAINST_REFERENCE:
            sheet.write_string(row, place, "holds worse", look["quiet"])
        else:
            sheet.write_formula(row, place, formula, look["number"], value)


def _sensitivity(sheet: Worksheet, study: Study, look: dict[str, Format]) -> None:
    """Each assumption moved alone, then every sample with its savings."""
    found = study.sensitivity
    assert found is not None
    currency = study.money.currency
    sheet.write_string(0, 0, "Sensitivity of the annual saving", look["title"])
    heads = ("Option", "Assumption", f"Saving at low, {currency}", f"Saving at high, {currency}")
    for place, head in enumerate(heads):
        sheet.write_string(2, place, head, look["head"])
    row = 3
    for option in study.options:
        if option.key not in found.likelihood:
            continue
        for one in found.sensitivity.ranked(saving_name(option.key)):
            sheet.write_string(row, 0, option.title, look["text"])
            sheet.write_string(row, 1, one.assumption, look["text"])
            for place, value in ((2, one.result_low), (3, one.result_high)):
                if value == value:  # a sample may have no figure
                    sheet.write_number(row, place, value, look["number"])
            row += 1
    row += 1
    keys = [option for option in study.options if option.key in found.likelihood]
    sheet.write_string(row, 0, f"Samples, seed {found.draws.seed}", look["group"])
    for place, option in enumerate(keys, start=1):
        sheet.write_string(row, place, f"{option.title}, saving {currency}", look["head"])
    columns = [found.draws.results[saving_name(option.key)] for option in keys]
    for sample, values in enumerate(zip(*columns, strict=True), start=1):
        sheet.write_number(row + sample, 0, sample, look["count"])
        for place, value in enumerate(values, start=1):
            if value == value:
                sheet.write_number(row + sample, place, float(value), look["number"])
    sheet.set_column(0, 1, 30)
    sheet.set_column(2, 8, 18)
