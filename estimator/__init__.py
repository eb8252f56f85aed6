"""The hour-by-hour account, over a weather year, of keeping a space dry with DX cooling.

``import dewledger as dw`` offers the names below; each is loaded when it is first used, so that the
import itself costs next to nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dewledger.case.files import bundled_case as example_case
    from dewledger.case.files import case_from_dict, load_case
    from dewledger.case.model import Case
    from dewledger.study import run_study
    from dewledger.views.meter import compare_with_meter
    from dewledger.weather.errors import InputError
    from dewledger.weather.files.readers import read as read_weather

# Public name -> where it is written: module, name there.
_PUBLIC = {
    "Case": ("dewledger.case.model", "Case"),
    "InputError": ("dewledger.weather.errors", "InputError"),
    "case_from_dict": ("dewledger.case.files", "case_from_dict"),
    "compare_with_meter": ("dewledger.views.meter", "compare_with_meter"),
    "example_case": ("dewledger.case.files", "bundled_case"),
    "load_case": ("dewledger.case.files", "load_case"),
    "read_weather": ("dewledger.weather.files.readers", "read"),
    "run_study": ("dewledger.study", "run_study"),
}

__all__ = [
    "Case",
    "InputError",
    "case_from_dict",
    "compare_with_meter",
    "example_case",
    "load_case",
    "read_weather",
    "run_study",
]


def __getattr__(name: str) -> Any:
    if name not in _PUBLIC:
        raise AttributeError(f"module 'dewledger' has no attribute '{name}'")
    module, inner = _PUBLIC[name]
    return getattr(import_module(module), inner)


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
