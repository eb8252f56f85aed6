"""The tables [humidity] and [[humidity.criteria]] of a case."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, field_validator, model_validator

from dewledger.case.base import Section
from dewledger.case.words import as_text, written
from dewledger.quantities import Measured, parse, quantity
from dewledger.weather.errors import InputError

LimitText = Annotated[str, BeforeValidator(as_text)]

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


class OwnCriterion(Section):
    """Limits of the user's own that the year is judged against, in addition to the published
    criteria.
    """

    title: str
    """What it is called in the report."""
    measure: Literal["relative humidity", "dew point", "humidity ratio"] = "relative humidity"
    """What low and high limit."""
    low: LimitText | None = None
    """Lower limit, such as "30 %", "40 degF" or "40 gr/lb"; default none."""
    high: LimitText | None = None
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


HumidityControl = Literal["none", "relative humidity", "dew point"]


class Humidity(Section):
    """The limit that control enforces and the range that hours are counted against."""

    control: HumidityControl = "none"
    """What the humidity controller measures."""
    limit: LimitText | None = None
    """A humidity such as "55 %" or a dew point such as "55 degF", as control says."""
    limit_unoccupied: LimitText | None = None
    """The limit of unoccupied hours; default the same."""
    differential: LimitText | None = None
    """How far the humidity falls below the limit before a dehumidification call ends, such as "3 %"
    or "2 degF", as control says; default these (rooftop control manual: on at 60 % RH, off at 57 %;
    dew point: common practice, no source)."""
    priority: Literal["temperature first", "humidity first"] = "temperature first"
    """What gives way where reheat runs short: drying, or the temperature."""
    range_low: Annotated[float, *quantity("fraction")] = parse("30 %", "fraction")
    """Relative humidity below which hours are counted."""
    range_high: Annotated[float, *quantity("fraction")] = parse("60 %", "fraction")
    """Relative humidity above which hours are counted."""
    observed_high: Annotated[float, *quantity("fraction", above_zero=True)] | None = None
    """Highest relative humidity that users of the room see, held against the model; it belongs to
    the option that stands there today."""
    criteria: tuple[str, ...] = ()
    """Published humidity criteria that the year is judged against, by key."""
    own_criteria: tuple[OwnCriterion, ...] = ()
    """The same by limits of your own, one table each."""
    cold_surface_factor: Annotated[float, *quantity("fraction")] = parse("75 %", "fraction")
    """Coldest inside surface judged for mold: its share of the way from outdoor to room
    temperature. Default: common practice for the corners of a sound envelope, no source."""
    cold_surface_temperature: Annotated[float, *quantity("temperature")] | None = None
    """A surface kept at this temperature, such as a cold pipe or duct, judged for mold instead."""

    @field_validator("criteria")
    @classmethod
    def _criteria(cls, value: tuple[str, ...]) -> tuple[str, ...]:
        from dewledger.data.humidity_criteria import criterion

        for key in value:
            criterion(key)
        return value

    @model_validator(mode="after")
    def _agree(self) -> Humidity:
        if self.range_low >= self.range_high:
            raise InputError(
                f'the humidity range crosses: range_low "{written(self.range_low)}" is not below '
                f'range_high "{written(self.range_high)}"; lower the one or raise the other'
            )
        if self.control == "none":
            if self.differential is not None:
                raise InputError(
                    'differential belongs to a limit, and control = "none" has none; leave it out'
                )
            if "control" not in self.model_fields_set and (
                self.limit is not None or self.limit_unoccupied is not None
            ):
                raise InputError(
                    "limit is given without control, and nothing would hold it; write "
                    'control = "relative humidity" or "dew point", or "none" where that is meant'
                )
            return self
        if not self.differential_value > 0.0:
            raise InputError(f'differential "{self.differential}" must be above zero')
        if self.limit is None:
            example = "55 %" if self.control == "relative humidity" else "55 degF"
            raise InputError(
                f'control = "{self.control}" needs a limit; write for example limit = "{example}"'
            )
        for name in ("limit", "limit_unoccupied"):
            text = getattr(self, name)
            if text is None:
                continue
            value = self._parsed(name, text)
            if self.control == "relative humidity" and value < self.range_low:
                raise InputError(
                    f'{name} "{text}" is below range_low "{written(self.range_low)}": the unit '
                    "would dry the room out of its own range; raise the limit or lower the range"
                )
        return self

    def _parsed(self, name: str, text: str) -> Measured:
        kind = "fraction" if self.control == "relative humidity" else "temperature"
        try:
            return parse(text, kind)
        except InputError as error:
            raise InputError(f'{name} (control = "{self.control}"): {error}') from None

    @property
    def differential_value(self) -> float:
        """The differential as a fraction of relative humidity, or of a dew point [K]."""
        by_humidity = self.control == "relative humidity"
        text = self.differential or ("3 %" if by_humidity else "2 degF")
        try:
            return float(parse(text, "fraction" if by_humidity else "temperature difference"))
        except InputError as error:
            raise InputError(f'differential (control = "{self.control}"): {error}') from None

    @property
    def limit_value(self) -> float:
        """The limit as a fraction or a dew point [C], as ``control`` says."""
        if self.limit is None:
            raise ValueError("no humidity control")
        return float(self._parsed("limit", self.limit))

    @property
    def limit_unoccupied_value(self) -> float | None:
        """The limit of unoccupied hours, None where it is the same."""
        text = self.limit_unoccupied
        return None if text is None else float(self._parsed("limit_unoccupied", text))
