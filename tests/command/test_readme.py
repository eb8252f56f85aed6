"""The README against the program: its set-up lines, every key of a case file.

The demo's output is compared where the demo is run, in test_verbs.py.

``python tests/command/test_readme.py`` writes the demo's output and the tables anew.
"""

import re
import subprocess
import sys
import tempfile
import typing
from pathlib import Path

import pytest
from pydantic import WithJsonSchema
from pydantic_core import PydanticUndefined

from dewledger.case import Case
from dewledger.quantities import KINDS, Measured

README = Path(__file__).parents[2] / "README.md"
OUTPUT = re.compile(r"(<!-- demo output -->\n```text\n).*?(```\n)", re.DOTALL)
TABLES = re.compile(r"(<!-- keys of (\S+) -->\n).*?(<!-- end -->\n)", re.DOTALL)


def models_of(model):
    """Every table of the case file: its name as it is written, its model."""
    found = {"": model}

    def into(annotation):
        if isinstance(annotation, type) and hasattr(annotation, "model_fields"):
            yield annotation
        for part in typing.get_args(annotation):
            yield from into(part)

    def walk(prefix, owner):
        for name, field in owner.model_fields.items():
            for inner in into(field.annotation):
                place = f"{prefix}.{name}" if prefix else name
                found[place] = inner
                walk(place, inner)

    walk("", model)
    return found


def kind_of(field):
    """The kind of quantity a field takes, or None."""

    def into(parts):
        for part in parts:
            if isinstance(part, WithJsonSchema):
                yield (part.json_schema or {}).get("description")
            yield from into(getattr(part, "__metadata__", ()))
            yield from into(typing.get_args(part))

    return next((kind for kind in into([*field.metadata, field.annotation]) if kind), None)


def literals(annotation):
    if typing.get_origin(annotation) is typing.Literal:
        yield from (str(value) for value in typing.get_args(annotation))
    else:
        for part in typing.get_args(annotation):
            yield from literals(part)


def unit_of(field):
    """What to write: the units of a quantity, the words of a choice, or the plain type."""
    kind = kind_of(field)
    if kind is not None:
        known = KINDS[kind]
        units = dict.fromkeys([known.display_ip, known.display_si])
        written = " or ".join(unit for unit in units if unit != "fraction")
        return written or "number"
    words = list(literals(field.annotation))
    if words:
        return ", ".join(f'"{word}"' for word in words)
    text = str(field.annotation)
    for sign, word in (("tuple", "list"), ("dict", "table"), ("bool", "true, false"),
                       ("int", "number"), ("float", "number")):  # fmt: skip
        if sign in text:
            return word
    return "text" if "str" in text else "table"


def default_of(field):
    if field.is_required():
        return "**needed**"
    value = field.default
    if value is PydanticUndefined or value is None or value == ():
        return "-"
    if isinstance(value, Measured):
        return value.text
    if isinstance(value, bool):
        return str(value).lower()
    return "-" if hasattr(value, "model_fields") else f"{value}"


def table_of(place, model):
    """The keys of one table of the case file, in Markdown."""
    rows = ["| key | write | default | |", "|---|---|---|---|"]
    inner = {name.rsplit(".", 1)[-1] for name in models_of(model) if name}
    for name, field in model.model_fields.items():
        if name in inner and kind_of(field) is None:
            continue  # a table of its own
        meaning = " ".join((field.description or "").split()).replace("|", "/")
        rows.append(f"| `{name}` | {unit_of(field)} | {default_of(field)} | {meaning} |")
    return "\n".join(rows) + "\n"


def anew(text):
    """The README with its tables as the models have them."""
    models = models_of(Case)
    return TABLES.sub(
        lambda match: match[1] + table_of(match[2], models[match[2].replace("top", "")]) + match[3],
        text,
    )


def demo_output():
    """What ``dewledger demo`` prints, progress left out."""
    with tempfile.TemporaryDirectory() as folder:
        done = subprocess.run(
            [sys.executable, "-m", "dewledger", "demo"],
            capture_output=True, text=True, check=True, cwd=folder,
        )  # fmt: skip
    return "".join(line.rstrip() + "\n" for line in done.stdout.splitlines())


def test_tables_of_keys_are_those_of_the_models():
    text = README.read_text(encoding="utf-8")
    named = {match[1].replace("top", "") for match in TABLES.findall(text)}
    models = models_of(Case)
    # One kind of table may stand in several places; each model is explained once.
    assert {models[name] for name in named} == set(models.values())
    assert anew(text) == text


def test_case_in_the_readme_can_be_read():
    from dewledger.case import case_from_text

    blocks = re.findall(r"```toml\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    assert blocks
    case = case_from_text(blocks[0], ".", "README")
    assert case.option_cases()


@pytest.mark.parametrize("ending", ["dewledger demo", "pytest"])
def test_set_up_is_one_line(ending):
    lines = README.read_text(encoding="utf-8").splitlines()
    found = [line for line in lines if re.fullmatch(rf"python3 -m venv .*{ending}", line)]
    assert len(found) == 1


def main():
    """Write the parts of the README that come from the program."""
    text = anew(README.read_text(encoding="utf-8"))
    text = OUTPUT.sub(lambda match: match[1] + demo_output() + match[2], text)
    README.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
