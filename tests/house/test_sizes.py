"""How long a file and a function may be, and how many parameters it may have.

What is larger stands in DEVELOPERS.md by its name, with the reason.
"""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
MOST_LINES_OF_A_FILE = 550  # "about 500"
MOST_LINES = 85  # "about 80", docstring and signature counted
MOST_PARAMETERS = 8
SOURCES = [
    path
    for room in ("estimator", "weather", "reports")
    for path in sorted((ROOT / room).rglob("*.py"))
]
CHECKS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## Checks")[2]
REASONED = set(re.findall(r"`([\w./]+)`", CHECKS))


def functions():
    for path in SOURCES:
        name = path.relative_to(ROOT).as_posix()
        # The verbs of the command: each parameter is an option at the terminal.
        verbs = name.startswith("reports/command/")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                yield name, verbs, node


def test_files_are_no_longer_than_a_reader_can_hold():
    long = {
        path.relative_to(ROOT).as_posix(): len(path.read_text(encoding="utf-8").splitlines())
        for path in SOURCES
    }
    found = {name: lines for name, lines in long.items() if lines > MOST_LINES_OF_A_FILE}
    assert not set(found) - REASONED, found


@pytest.mark.parametrize("what", ["lines", "parameters"])
def test_functions_are_no_larger_than_a_reader_can_hold(what):
    found = []
    for name, verb, node in functions():
        if what == "lines":
            large = node.end_lineno - node.lineno + 1 > MOST_LINES
        else:
            arguments = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
            own = [one.arg for one in arguments if one.arg not in ("self", "cls")]
            large = len(own) > MOST_PARAMETERS and not verb
        if large and node.name not in REASONED:
            found.append(f"{name}: {node.name}")
    assert not found, "\n".join(found)
