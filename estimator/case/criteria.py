"""The tables [[humidity.own_criteria]] of a case."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, field_validator, model_validator

from estimator.case.base import Section
from estimator.quantities import Measured, parse, quantity
from weather.errors import InputError

_KINDS = {
    "relative humidity": "fraction",
    "dew point": "temperature",
    "humidity ratio": "humidity ratio",
}
_EXAMPLES = {
    "relative humidity": 'high = "60 %"',
    "dew point": 'high = "60 degF"',
    "humidity ratio": 'high = "65 gr/lb"',
}


def _as_text(value: object) -> object:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return f"{value:g}" if number else value


Limit = Annotated[str, BeforeValidator(_as_text)]


class OwnCriterion(Section):
    """Limits of the user's own that the year is judged against, beside the published criteria."""

    title: str
    """What it is called in the report."""
    measure: Literal["relative humidity", "dew point", "humidity ratio"] = "relative humidity"
    """What low and high limit."""
    low: Limit | None = None
    """Lower limit, such as "30 %", "40 degF" or "40 gr/lb"; default none."""
    high: Limit | None = None
    """Upper limit; default none."""
    seasonal_drift: Annotated[float, *quantity("fraction")] = parse("0 %", "fraction")
    """How far the middle of a range of relative humidity may follow the seasons; default not."""
    hours: Literal["all", "occupied", "design"] = "all"
    """All hours, the occupied ones, or those at the outdoor dehumidification design point."""
    temperature_low: Annotated[float, *quantity("temperature")] | None = None
    """Temperature below which hours are counted too; default none."""
    temperature_high: Annotated[float, *quantity("temperature")] | None = None
    """Temperature above which hours are counted too; default none."""
    source: str = "stated in the case"
    """Where the limits are from."""

    @field_validator("title")
    @classmethod
    def _title(cls, value: str) -> str:
        if not value.strip():
            raise InputError('title is empty; write for example "Piano store"')
        return value

    @model_validator(mode="after")
    def _agree(self) -> OwnCriterion:
        low, high = self.limits()
        if low is None and high is None:
            raise InputError(
                f'"{self.title}" has no limit; write low, high or both, for example '
                f"{_EXAMPLES[self.measure]}"
            )
        if low is not None and high is not None and low >= high:
            raise InputError(
                f'"{self.title}" has its low limit "{low.text}" at or above its high limit '
                f'"{high.text}"; lower the one or raise the other'
            )
        if self.seasonal_drift > 0.0 and (
            self.measure != "relative humidity" or low is None or high is None
        ):
            raise InputError(
                f'"{self.title}" drifts with the seasons, so it needs a low and a high relative '
                "humidity"
            )
        return self

    def limits(self) -> tuple[Measured | None, Measured | None]:
        """Low and high as a fraction, a dew point [C] or kg/kg."""

        def read(name: str, text: str | None) -> Measured | None:
            if text is None:
                return None
            try:
                return parse(text, _KINDS[self.measure])
            except InputError as error:
                raise InputError(f'{name} (measure = "{self.measure}"): {error}') from None

        return read("low", self.low), read("high", self.high)
