"""The verb that compiles ahead: for an image, a classroom, a machine that will be offline."""

from __future__ import annotations

from dewledger.reports.command.steps import progress_shown, say_if_compiling, wide_console
from dewledger.weather.errors import InputError


def prepare() -> None:
    """Compile everything now, so that the first run is quick.

    Solves every bundled case once and writes no results. Example: **dewledger prepare**
    """
    from dewledger.assembly.short_year import short_ledger
    from dewledger.case import bundled_case, starter_kinds
    from dewledger.study import run_study
    from dewledger.views.hour_choice import Asked, find_hour, option_of
    from dewledger.views.psychrometrics import cooling_coil, dew_point, wet_bulb
    from dewledger.views.unit import view_unit
    from dewledger.weather.numerics.compiled import machine_code_folder

    folder = machine_code_folder()
    if folder is None:
        raise InputError("nothing can be prepared: there is no folder to keep it in")
    say_if_compiling()
    kinds = list(starter_kinds())
    with progress_shown() as progress:
        for step, kind in enumerate(kinds):
            progress(f"solving {kind}", step, len(kinds))
            study = run_study(bundled_case(kind))
            option = option_of(study.case, None)
            find_hour(study.case, option.key, Asked(worst="dew-point"), study.case.display)
            view_unit(study.case, option, study.weather, study.case.display)
            short_ledger(study.options[0].machine)  # as draws and sweeps solve it
        # The programs of the functions that python offers, which no case needs.
        dew_point(0.010)
        wet_bulb(24.0, 0.010)
        cooling_coil(24.0, 0.010, 8.0, 0.1)
        progress("done", len(kinds), len(kinds))
    wide_console().print(f"ready; compiled code is in {folder.parent}", soft_wrap=True)
