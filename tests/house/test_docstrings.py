"""What every public function of physics, components, unit and hour states: units, errors, source.

An argument of numbers names its unit by its ending, or is in the nomenclature, or stands with a
unit in the docstring. A result of numbers has its unit in brackets, a NamedTuple with its fields.
"""

import ast
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
ROOMS = ("weather/physics", "estimator/components", "estimator/dx_unit", "estimator/hourly")
TERMS = tomllib.loads((ROOT / "estimator" / "data" / "terms.toml").read_text(encoding="utf-8"))
ENDINGS = {ending.strip("`_ ") for row in TERMS["suffix"] for ending in row["name"].split(",")} | {
    "deg",
    "m",
    "m2",
    "s",
    "J_kg",
    "kg_m3",
}
NAMES = {name for row in TERMS["name"] for name in re.findall(r"[a-z_]+", row["name"])}
UNIT = re.compile(
    r"\[(?:0-1|1(?:/[hK])?|[CFK]\b|W|kWh?|Pa|J/|kg|m\b|m[23]|s\b|h\b|deg|fraction)[^\]]*\]"
)
SOURCE = re.compile(
    r"ASHRAE|AHRI|ISO \d|Fundamentals|Reda and Andreas|common "
    r"practice|CoolProp|Sources?\b|balance|definition"
)


def functions():
    for room in ROOMS:
        for path in sorted((ROOT / room).glob("*.py")):
            module = ast.parse(path.read_text(encoding="utf-8"))
            for node in module.body:
                if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                    yield pytest.param(
                        node, ast.get_docstring(module) or "", id=f"{path.stem}.{node.name}"
                    )


FUNCTIONS = list(functions())


def of_numbers(annotation):
    return annotation is not None and re.search(
        r"\b(?:float|FloatArray)\b", ast.unparse(annotation)
    )


def has_unit(name, text):
    words = name.split("_")
    return (
        bool({"_".join(words[at:]) for at in range(1, len(words))} & ENDINGS)
        or any(known in (name, "_".join(words[:-1]), "_".join(words[1:])) for known in NAMES)
        or bool({words[0], words[-1]} & NAMES)
        or re.search(rf"\b{name}\b", text) is not None
    )


@pytest.mark.parametrize(("function", "module"), FUNCTIONS)
def test_units_errors_and_source_are_stated(function, module):
    text = " ".join((ast.get_docstring(function) or "").split())
    assert text, "no docstring"
    for argument in [*function.args.args, *function.args.kwonlyargs]:
        if of_numbers(argument.annotation):
            assert has_unit(argument.arg, text), f"{argument.arg} has no unit"
    if of_numbers(function.returns):
        assert UNIT.search(text) or UNIT.search(module), "the result has no unit"
    if any(isinstance(node, ast.Raise) and node.exc for node in ast.walk(function)):
        assert re.search(r"Raises|InputError|ValueError", text), "errors are not stated"
    assert SOURCE.search(f"{text} {module}"), "no source"


def test_they_are_all_there():
    assert len(FUNCTIONS) >= 200
