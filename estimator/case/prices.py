"""The tables [prices] and [options.*.cost] of a case."""

from __future__ import annotations

import calendar
import re
from typing import Annotated, Any, Literal

import numpy as np
import numpy.typing as npt
from pydantic import BaseModel, field_validator, model_validator

from dewledger.case.base import Section
from dewledger.quantities import Measured, parse, quantity
from dewledger.weather.errors import InputError

IntArray = npt.NDArray[np.int64]


MONTHS = tuple(calendar.month_abbr[1:])


_DAY_KINDS = {"weekday": (0,), "weekend": (1,), "all": (0, 1)}


_DAY_NAMES = ("weekdays", "weekends")


CURRENCIES = ("USD", "EUR", "GBP", "CAD", "AUD", "INR", "JPY", "SGD")


_DOLLARS = ("USD", "CAD", "AUD", "SGD")  # "$" may stand for any of these


_STATES = (
    "AL AK AZ AR CA CO CT DE DC FL GA HI ID IL IN IA KS KY LA ME MD MA MI MN MS MO MT NE NV NH NJ "
    "NM NY NC ND OH OK OR PA RI SC SD TN TX UT VT VA WA WV WI WY"
)


def _once(found: list[int], what: str, text: str) -> list[int]:
    if len(set(found)) != len(found):
        raise InputError(f'{what} "{text}" names a part twice; write each once')
    return sorted(found)


def _month(text: str) -> int | None:
    """Index 0..11 of a month's name, whole or by its first letters (three or more)."""
    name = text.strip().lower()
    names = calendar.month_name[1:]
    match = [i for i, month in enumerate(names) if month.lower().startswith(name)]
    return match[0] if len(name) >= 3 and match else None


def months_of(text: str) -> list[int]:
    """Month indices 0..11 of "all", "Jun-Sep" or "Jan-May, Oct-Dec"; "Nov-Apr" wraps."""
    if text.strip().lower() == "all":
        return list(range(12))
    found: list[int] = []
    for part in text.split(","):
        ends = [_month(end) for end in part.split("-")]
        first, last = ends[0], ends[-1]
        if first is None or last is None or len(ends) > 2:
            raise InputError(
                f'months "{text}" cannot be read; write for example "Jun-Sep" or "Jan-May, Oct-Dec"'
            )
        found += [(first + step) % 12 for step in range((last - first) % 12 + 1)]
    return _once(found, "months", text)


_CLOCK = re.compile(r"^\s*(\d{1,2}):(\d{2})\s*-\s*(\d{1,2}):(\d{2})\s*$")


def hours_of(text: str) -> list[int]:
    """Clock hours 0..23 of "all", "14:00-20:00" or "20:00-14:00" (past midnight, same date)."""
    if text.strip().lower() == "all":
        return list(range(24))
    found: list[int] = []
    for part in text.split(","):
        match = _CLOCK.match(part)
        if not match:
            raise InputError(f'hours "{text}" cannot be read; write for example "14:00-20:00"')
        first, first_min, last, last_min = (int(number) for number in match.groups())
        if first_min or last_min:
            raise InputError(
                f'hours "{text}" must begin and end on the hour, since the account is hourly; '
                'write for example "14:00-20:00"'
            )
        if first > 23 or last > 24 or first == last:
            raise InputError(
                f'hours "{text}" must run from 00:00 to at most 24:00; '
                'write for example "14:00-20:00"'
            )
        found += [(first + step) % 24 for step in range((last - first) % 24 or 24)]
    return _once(found, "hours", text)


def _text_currency(text: str) -> tuple[str, ...]:
    """The currencies that a written quantity may be in; () where it names none."""
    if "$" in text:
        return _DOLLARS
    return tuple(name for name in CURRENCIES if re.search(rf"\b{name}\b", text))


def check_currency(model: BaseModel, currency: str, where: str) -> None:
    """InputError where a price in ``model`` is written in another currency than the case's."""
    for field in type(model).model_fields:
        value = getattr(model, field)
        if isinstance(value, Measured):
            allowed = _text_currency(value.text)
            if allowed and currency not in allowed:
                raise InputError(
                    f'{where}{field} "{value.text}" is not in {currency}; write it in {currency}, '
                    f'or set currency = "{allowed[0]}" in [prices]'
                )


def check_not_negative(value: Any, field: str | None) -> Any:
    """InputError where a price or a cost is below zero; else the value as it came."""
    if isinstance(value, Measured) and value < 0.0:
        raise InputError(
            f'{field} "{value.text}" is negative; '
            f"write zero or more, for example {value.kind.example}"
        )
    return value


class ElectricityPeriod(Section):
    """One price of a time-of-use tariff and the hours of the year it holds for."""

    name: str
    """What the period is called."""
    price: Annotated[float, *quantity("energy price")]
    """Price in the period."""
    months: str = "all"
    """"all", "Jun-Sep" or "Jan-May, Oct-Dec"."""
    days: Literal["weekday", "weekend", "all"] = "all"
    """Kind of day."""
    hours: str = "all"
    """"all", "14:00-20:00" or several such ranges."""

    @field_validator("price")
    @classmethod
    def _price(cls, value: float) -> float:
        check_not_negative(value, "price")
        return value

    @field_validator("months")
    @classmethod
    def _months(cls, value: str) -> str:
        months_of(value)
        return value

    @field_validator("hours")
    @classmethod
    def _hours(cls, value: str) -> str:
        hours_of(value)
        return value

    def cells(self) -> tuple[IntArray, ...]:
        """Index of the (month, day kind, hour) cells that the period covers."""
        return np.ix_(months_of(self.months), _DAY_KINDS[self.days], hours_of(self.hours))


def _cell_text(month: int, day_kind: int, hour: int) -> str:
    return f"{MONTHS[month]} {_DAY_NAMES[day_kind]} {hour:02d}:00-{hour + 1:02d}:00"


def period_table(periods: tuple[ElectricityPeriod, ...]) -> IntArray:
    """Index of the period that covers each (month 12, day kind 2, hour 24) cell, each once."""
    table = np.full((12, 2, 24), -1, dtype=np.int64)
    for i, period in enumerate(periods):
        cells = period.cells()
        taken = np.argwhere(table[cells] >= 0)
        if len(taken):
            month, day_kind, hour = (
                int(axis.ravel()[at]) for axis, at in zip(cells, taken[0], strict=True)
            )
            other = periods[table[month, day_kind, hour]].name
            raise InputError(
                f'electricity_periods "{other}" and "{period.name}" overlap, for example on '
                f"{_cell_text(month, day_kind, hour)}; give each hour to one period only"
            )
        table[cells] = i
    gaps = np.argwhere(table < 0)
    if len(gaps):
        month, day_kind, hour = (int(at) for at in gaps[0])
        raise InputError(
            "electricity_periods leave hours without a price, for example "
            f"{_cell_text(month, day_kind, hour)}; widen a period or add one"
        )
    return table


class Prices(Section):
    """Prices of energy and carbon, life and rates; what is left out has defaults with source.

    Rates of escalation and discount are real (above general inflation). Gas is priced per energy
    of the fuel's higher heating value, as it is billed.
    """

    currency: Literal["USD", "EUR", "GBP", "CAD", "AUD", "INR", "JPY", "SGD"] = "USD"
    """Currency of every price and cost."""
    state: str | None = None
    """Two letters of a US state, whose average electricity price is used where none is given."""
    electricity: Annotated[float, *quantity("energy price")] | None = None
    """One price at all hours; or electricity_periods. Default: average of the state or the US."""
    electricity_periods: tuple[ElectricityPeriod, ...] = ()
    """A price for each part of the week and year."""
    electricity_monthly: Annotated[float, *quantity("money per month")] | None = None
    """Fixed charge of a month; default none."""
    demand: Annotated[float, *quantity("demand price")] | None = None
    """Charge of a month for its highest hour; default none."""
    demand_ratchet: Annotated[float, *quantity("fraction")] | None = None
    """Share of the highest demand of the ratchet months that every month is billed at least."""
    demand_ratchet_months: str = "all"
    """Months whose highest demand sets the ratchet, such as "Jun-Sep"."""
    gas: Annotated[float, *quantity("energy price")] | None = None
    """Price of gas, higher heating value. Default: US average."""
    gas_monthly: Annotated[float, *quantity("money per month")] | None = None
    """Fixed charge of a month; default none."""
    carbon_electricity: Annotated[float, *quantity("carbon per energy")] | None = None
    """Carbon dioxide of electricity. Default: US average."""
    carbon_gas: Annotated[float, *quantity("carbon per energy")] | None = None
    """Carbon dioxide of gas. Default: 40 CFR 98."""
    carbon_hourly: str | None = None
    """CSV of the carbon of electricity in each hour, instead of carbon_electricity."""
    carbon_price: Annotated[float, *quantity("carbon price")] | None = None
    """Price put on carbon in the life-cycle cost; default none."""
    source_electricity: Annotated[float, *quantity("ratio")] | None = None
    """Source over site energy of electricity. Default: 2.80."""
    source_gas: Annotated[float, *quantity("ratio")] | None = None
    """Source over site energy of gas. Default: 1.05."""
    discount_rate: Annotated[float, *quantity("rate per year")] | None = None
    """Real discount rate. Default: 3 %."""
    life: Annotated[float, *quantity("span of years")] | None = None
    """Years of the life-cycle cost. Default: 15."""
    escalation_electricity: Annotated[float, *quantity("rate per year")] | None = None
    """Real price rise of electricity; default none."""
    escalation_gas: Annotated[float, *quantity("rate per year")] | None = None
    """Real price rise of gas; default none."""

    @field_validator("state")
    @classmethod
    def _state(cls, value: str | None) -> str | None:
        if value is not None and value.upper() not in _STATES.split():
            raise InputError(
                f'state "{value}" is not a US state; write its two letters, for example "NC"'
            )
        return value.upper() if value else None

    @field_validator(
        *("electricity", "electricity_monthly", "demand", "gas", "gas_monthly", "carbon_price"),
        *("source_electricity", "source_gas"),
    )
    @classmethod
    def _not_negative(cls, value: float | None, info: Any) -> float | None:
        check_not_negative(value, info.field_name)
        return value

    @field_validator("discount_rate", "escalation_electricity", "escalation_gas")
    @classmethod
    def _rate(cls, value: float | None, info: Any) -> float | None:
        # A bare 1 is inside the kind's bounds, yet who writes it means one percent.
        if isinstance(value, Measured) and not -0.5 < value < 0.5:
            raise InputError(
                f'{info.field_name} "{value.text}" means {100 * value:.0f} % a year; '
                'write a rate such as "3 %"'
            )
        return value

    @field_validator("life")
    @classmethod
    def _life(cls, value: float | None) -> float | None:
        if isinstance(value, Measured) and (value < 1.0 or not float(value).is_integer()):
            raise InputError(
                f'life "{value.text}" must be a whole number of years, one or more; '
                'write for example "15 year"'
            )
        if value is not None and value > 100.0:
            raise InputError('life cannot be above 100 years; write for example "15 year"')
        return value

    @field_validator("demand_ratchet_months")
    @classmethod
    def _ratchet_months(cls, value: str) -> str:
        months_of(value)
        return value

    @model_validator(mode="after")
    def _agree(self) -> Prices:
        if self.electricity_periods:
            if self.electricity is not None:
                raise InputError(
                    "electricity and electricity_periods are both given; "
                    "keep the flat price or the periods"
                )
            names = [period.name for period in self.electricity_periods]
            for name in names:
                if names.count(name) > 1:
                    raise InputError(
                        f'electricity_periods "{name}" is given twice; give each its own name'
                    )
            period_table(self.electricity_periods)
        if self.demand_ratchet is not None and self.demand is None:
            raise InputError(
                'demand_ratchet is given without demand; write for example demand = "14 USD/kW"'
            )
        if self.demand_ratchet_months != "all" and self.demand_ratchet is None:
            raise InputError(
                "demand_ratchet_months is given without demand_ratchet; "
                'write for example demand_ratchet = "80 %"'
            )
        if self.carbon_hourly is not None and self.carbon_electricity is not None:
            raise InputError(
                "carbon_electricity and carbon_hourly are both given; keep the one that is meant"
            )
        check_currency(self, self.currency, "")
        for period in self.electricity_periods:
            check_currency(period, self.currency, f'electricity_periods "{period.name}" ')
        if self.currency != "USD":
            missing = (
                [] if self.electricity is not None or self.electricity_periods else ["electricity"]
            )
            missing += ["gas"] if self.gas is None else []
            if missing:
                raise InputError(
                    f"{' and '.join(missing)} must be given in {self.currency}, since the defaults "
                    f'are in USD; write for example {missing[0]} = "0.25 {self.currency}/kWh"'
                )
        return self


class OptionCost(Section):
    """What an option costs to put in and to keep up."""

    first_cost: Annotated[float, *quantity("money")] | None = None
    """First cost of the option, without what all options share."""
    upkeep_per_year: Annotated[float, *quantity("money per year")] = parse(
        "0 USD/year", "money per year"
    )
    """Cost to keep it up."""

    @field_validator("first_cost", "upkeep_per_year")
    @classmethod
    def _not_negative(cls, value: float | None, info: Any) -> float | None:
        check_not_negative(value, info.field_name)
        return value
