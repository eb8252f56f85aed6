"""What compiled.py notes of functions and tuples for machine_code.py, and the log of both."""

import logging
from collections.abc import Callable
from typing import Any

MemberPath = tuple[str, ...]  # to a member of a member

# Functions that compiled code may call.
MARKED: set[Callable[..., Any]] = set()
# Of each class of tuples that is taken by address, the common values of its choices.
COMMON: dict[type, dict[MemberPath, tuple[int, ...]]] = {}

# Says that something is compiled that takes its time. The command says it in its own way.
first_run_log = logging.getLogger("dewledger.first_run")


def name_of(function: Callable[..., Any]) -> str:
    """What the files of a function's machine code begin with."""
    return f"{function.__module__}.{function.__qualname__}-{function.__code__.co_firstlineno}"
