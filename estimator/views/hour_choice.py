"""Which hour of which option is meant: by its date, as the worst of the year, or as stated."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from dewledger.analysis.reheat_coil_size import require_fed
from dewledger.assembly.machine import Machine, assemble
from dewledger.case import Case, OptionCase
from dewledger.case.words import listed, nearest
from dewledger.quantities import Display, parse, show
from dewledger.study import Progress, read_weather, solve_option
from dewledger.views.design_hours import DESIGN, design_hour
from dewledger.views.hour import (
    WORST,
    HourDetail,
    detail_at,
    hour_of,
    report_hour,
    stated_hour,
    worst_hour,
)
from dewledger.weather.errors import InputError
from dewledger.weather.year import WeatherYear

_EXAMPLE = 'write for example --at "Jul 15 16:00"'


@dataclass(frozen=True)
class Asked:
    """What the user wrote: a date, a kind of worst hour, or a stated condition; one of the three.

    sensible_load, latent_load : shares of the year's largest gains, for a stated condition
    """

    at: str | None = None
    worst: str | None = None
    design: str | None = None
    outdoor: str | None = None
    wet_bulb: str | None = None
    sensible_load: str | None = None
    latent_load: str | None = None

    @property
    def stated(self) -> bool:
        return any((self.outdoor, self.wet_bulb, self.sensible_load, self.latent_load))

    def check(self) -> None:
        """Say at once what is missing or too much.

        Raises
        ------
        InputError : none or two of the three ways, half a stated condition, an unknown worst
        """
        ways = [
            name
            for name, given in (
                ("--at", self.at is not None),
                ("--worst", self.worst is not None),
                ("--design", self.design is not None),
                ("--outdoor", self.stated),
            )
            if given
        ]
        if not ways:
            raise InputError(
                f"hour needs to know which one: {_EXAMPLE}, --worst reheat, --design dew-point, or "
                "--outdoor and --wet-bulb"
            )
        if len(ways) > 1:
            raise InputError(
                f"{' and '.join(ways)} name two hours; write one of --at, --worst, --design and "
                "--outdoor"
            )
        if self.worst is not None and self.worst not in WORST:
            raise InputError(
                f'--worst "{self.worst}" is not known{nearest(self.worst, WORST)}; '
                f"write {listed(WORST)}"
            )
        if self.design is not None and self.design not in DESIGN:
            raise InputError(
                f'--design "{self.design}" is not known{nearest(self.design, DESIGN)}; '
                f"write {listed(DESIGN)}"
            )
        if self.stated and (self.outdoor is None or self.wet_bulb is None):
            missing = "--outdoor" if self.outdoor is None else "--wet-bulb"
            raise InputError(
                f"a stated condition needs {missing} too; "
                'write for example --outdoor "95 degF" --wet-bulb "78 degF"'
            )


@dataclass(frozen=True)
class FoundHour:
    """An hour found, and what a chart of it needs.

    hour : of the machine's drivers
    year : the weather year, where the hour is one of it
    """

    option: OptionCase
    detail: HourDetail
    machine: Machine
    hour: int
    station: str
    year: WeatherYear | None


def option_of(case: Case, key: str | None) -> OptionCase:
    """The option of a key; without one the first with condenser heat, else the reference.

    Raises
    ------
    InputError : no option has the key
    """
    options = {option.key: option for option in case.option_cases()}
    if key is None:
        for option in options.values():
            if any(source.source == "condenser" for source in option.case.reheat):
                return option
        return options[case.reference_key]
    if key not in options:
        raise InputError(
            f'--option "{key}" is not in the case{nearest(key, options)}; write {listed(options)}'
        )
    return options[key]


def find_hour(
    case: Case,
    key: str | None,
    asked: Asked,
    display: Display,
    weather: WeatherYear | None = None,
    progress: Progress | None = None,
) -> FoundHour:
    """Solve one option of a case and report the hour that is named.

    Raises
    ------
    InputError : an hour, condition or option that does not exist, or what ``run_study`` refuses
    """
    asked.check()
    option = option_of(case, key)
    report = progress or (lambda what, step, of: None)
    report("reading weather", 0, 2)
    year = weather if weather is not None else read_weather(case)
    hour = hour_of(year, asked.at) if asked.at is not None else None
    condition = _condition(asked) if asked.stated else None
    machine = assemble(option, year)
    require_fed(machine)
    report(f"solving {option.title}", 1, 2)
    station = year.station.name
    if condition is not None:
        outdoor, wet_bulb, sensible, latent = condition
        pressure = float(np.mean(year.arrays["pressure_Pa"]))
        ledger, held = stated_hour(machine, outdoor, wet_bulb, pressure, sensible, latent)
        when = (
            f"{show(outdoor, 'temperature', display)} outdoors, wet bulb "
            f"{show(wet_bulb, 'temperature', display)}; {100.0 * sensible:.0f} % of the year’s "
            f"largest sensible gains and {100.0 * latent:.0f} % of the largest moisture gains, "
            "held until the room is steady"
        )
        detail = report_hour(ledger, held, 0, when, display)
        report("done", 2, 2)
        return FoundHour(option, detail, held, 0, station, None)
    ledger = solve_option(machine)
    if asked.design is not None:
        hour = design_hour(machine, year, asked.design)
    if hour is None:
        assert asked.worst is not None
        hour = worst_hour(ledger, machine, year, asked.worst)
        if hour is None:
            never = "overcools" if asked.worst == "reheat" else "leaves its humidity range"
            raise InputError(
                f'--worst {asked.worst}: with option "{option.key}" the room never {never}; '
                "choose another option or another worst hour"
            )
    report("done", 2, 2)
    detail = detail_at(ledger, machine, year, hour, display)
    if asked.design is not None:
        detail = replace(detail, when=f"{detail.when}: {DESIGN[asked.design]}")
    return FoundHour(option, detail, machine, hour, station, year)


def _condition(asked: Asked) -> tuple[float, float, float, float]:
    """Outdoor dry and wet bulb [C] and the two shares of the largest gains."""

    def read(name: str, text: str | None, kind: str, default: float) -> float:
        try:
            return default if text is None else float(parse(text, kind))
        except InputError as problem:
            raise InputError(f"--{name}: {problem}") from None

    return (
        read("outdoor", asked.outdoor, "temperature", 0.0),
        read("wet-bulb", asked.wet_bulb, "temperature", 0.0),
        read("sensible-load", asked.sensible_load, "fraction", 1.0),
        read("latent-load", asked.latent_load, "fraction", 1.0),
    )
