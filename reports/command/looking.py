"""The verbs that look closely: one hour of a year, and the unit by itself."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, cast

import typer

from dewledger.reports.command.steps import (
    progress_shown,
    require_free_picture,
    say_if_compiling,
    wide_console,
)
from dewledger.weather.errors import InputError

if TYPE_CHECKING:
    from dewledger.case import Case
    from dewledger.quantities import Display
    from dewledger.weather.year import WeatherYear

CaseFile = Annotated[Path, typer.Argument(help="The case file.")]
OptionKey = Annotated[
    str | None,
    typer.Option("--option", help="Key of the option; default: the first with condenser heat."),
]
DisplayUnits = Annotated[
    str | None, typer.Option("--display", help="I-P or SI; default: the case's own.")
]
OtherWeather = Annotated[
    str | None, typer.Option("--weather", help="Another weather file or bundled station.")
]


def hour(
    case: CaseFile,
    option: OptionKey = None,
    at: Annotated[
        str | None, typer.Option("--at", help='An hour of the year, such as "Jul 15 16:00".')
    ] = None,
    worst: Annotated[
        str | None,
        typer.Option("--worst", help="reheat, dew-point, dry-bulb or out-of-range."),
    ] = None,
    design: Annotated[
        str | None,
        typer.Option(
            "--design", help="dew-point, dry-bulb or part-load: 0.4 % of the case's own year."
        ),
    ] = None,
    outdoor: Annotated[
        str | None, typer.Option("--outdoor", help='Stated outdoor dry bulb, such as "95 degF".')
    ] = None,
    wet_bulb: Annotated[
        str | None, typer.Option("--wet-bulb", help='Stated outdoor wet bulb, such as "78 degF".')
    ] = None,
    sensible_load: Annotated[
        str | None,
        typer.Option("--sensible-load", help="Share of the year's largest sensible gains."),
    ] = None,
    latent_load: Annotated[
        str | None,
        typer.Option("--latent-load", help="Share of the year's largest moisture gains."),
    ] = None,
    picture: Annotated[
        Path | None,
        typer.Option("--picture", help="Psychrometric chart to write: .png, .svg or .pdf."),
    ] = None,
    display: DisplayUnits = None,
    weather: OtherWeather = None,
) -> None:
    """Report one hour: states of the air, heats, refrigeration, and what control decided and why.

    Example: **dewledger hour hall.toml --at "Jul 15 16:00" --picture hour.png**

    An hour of the year, the worst one, or a stated condition. Three hours teach what reheat is
    for: full load, which needs none; then little sensible load in mild wet weather (room sensible
    heat ratio about 0.53), where the room grows damp without it and stays dry with it.

    **dewledger hour hall.toml --outdoor "95 degF" --wet-bulb "72 degF"
    --latent-load "40 %"**

    **dewledger hour hall.toml --outdoor "70 degF" --wet-bulb "69 degF" --sensible-load "30 %"
    --latent-load "20 %" --option none**

    **dewledger hour hall.toml --outdoor "70 degF" --wet-bulb "69 degF" --sensible-load "30 %"
    --latent-load "20 %" --picture part-load.png**
    """
    from dewledger.reports.charts.style import save_picture
    from dewledger.reports.diagrams.hour import hour_chart
    from dewledger.reports.terminal.hour import report_hour
    from dewledger.views.hour_choice import Asked, find_hour

    asked = Asked(at, worst, design, outdoor, wet_bulb, sensible_load, latent_load)
    asked.check()
    require_free_picture(picture)
    chosen, shown = _case_and_units(case, display)
    say_if_compiling()
    year = _weather_or_none(weather)
    with progress_shown() as progress:
        found = find_hour(chosen, option, asked, shown, year, progress)
    console = wide_console()
    title = f"{chosen.title}: {found.option.title}"
    report_hour(found.detail, title, shown, console, dated=not asked.stated)
    if picture is not None:
        save_picture(hour_chart(found, shown, name="hour").figure(), picture, "hour")
        console.print(f"wrote {picture}", soft_wrap=True)


def _case_and_units(case: Path, display: str | None) -> tuple[Case, Display]:
    """The case read, and the units asked for or its own."""
    from dewledger.case import load_case

    if display not in (None, "I-P", "SI"):
        raise InputError(f'--display "{display}" is not known; write I-P or SI')
    read = load_case(case)
    return read, (read.display if display is None else cast("Display", display))


def _weather_or_none(weather: str | None) -> WeatherYear | None:
    from dewledger.weather.files.readers import read

    return None if weather is None else read(weather)


def unit(
    case: CaseFile,
    option: OptionKey = None,
    entering: Annotated[
        str | None,
        typer.Option("--entering", help="Dry bulb onto the coil; default: the room's set point."),
    ] = None,
    picture: Annotated[
        Path | None,
        typer.Option(
            "--picture",
            help="Picture of the map to write: .png, .svg or .pdf; the cycle is written next to "
            "it, with -cycle in its name.",
        ),
    ] = None,
    display: DisplayUnits = None,
    weather: OtherWeather = None,
) -> None:
    """Show a unit: capacity, power, condensing temperature, and how warm its reheat gets the air.

    Over outdoor temperature and entering wet bulb, at full capacity and at half load; and its
    refrigeration cycle. Example: **dewledger unit hall.toml --picture unit.png**
    """
    from dewledger.dx_unit.cycle import NO_CYCLE
    from dewledger.quantities import parse
    from dewledger.reports.charts.style import save_picture
    from dewledger.reports.diagrams.unit import rated_cycle_chart, unit_map
    from dewledger.reports.terminal.unit import show_unit
    from dewledger.study import read_weather
    from dewledger.views.hour_choice import option_of
    from dewledger.views.unit import view_unit

    require_free_picture(picture, "-cycle")
    try:
        temp_in = None if entering is None else float(parse(entering, "temperature"))
    except InputError as problem:
        raise InputError(f"--entering: {problem}") from None
    chosen, shown = _case_and_units(case, display)
    picked = option_of(chosen, option)
    say_if_compiling()
    year = _weather_or_none(weather) or read_weather(chosen)
    view = view_unit(chosen, picked, year, shown, temp_in)
    console = wide_console()
    show_unit(view, shown, console)
    if picture is not None:
        save_picture(unit_map(view, shown).figure(), picture, "unit-map")
        console.print(f"wrote {picture}", soft_wrap=True)
        if view.rated_cycle is None:
            console.print(f"No picture of the cycle: {NO_CYCLE[:1].lower()}{NO_CYCLE[1:]}")
            return
        cycle_picture = picture.with_name(f"{picture.stem}-cycle{picture.suffix}")
        save_picture(rated_cycle_chart(view, shown).figure(), cycle_picture, "unit-cycle")
        console.print(f"wrote {cycle_picture}", soft_wrap=True)
