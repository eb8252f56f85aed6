"""docs/python.md is made from the docstrings of what ``import dewledger`` offers.

``python tests/command/test_python_page.py`` writes it anew.
"""

import inspect
from pathlib import Path

import dewledger as dw

PAGE = Path(__file__).parents[2] / "docs" / "python.md"
STUDY = ("annual", "monthly", "hourly", "option", "plot", "write_report")
CASE = ("with_values", "option_cases", "to_toml", "digest")
INTRO = """# Python

<!-- Made by python tests/command/test_python_page.py from the docstrings; change those instead. -->

`import dewledger as dw` offers the names below; each is loaded when it is first used. Inside, all is SI; tables carry their units in `attrs["units"]`. What cannot be used raises `InputError` with one sentence. Names and accounts are typed: a misspelt account is an error of mypy and pyright.

A case comes from `load_case`, `case_from_dict` or `example_case` and is never changed in place: `with_values` gives a changed copy.

Two notebooks, plain Python in percent format, run as they stand: notebooks/savings_for_a_memo.py and notebooks/what_a_code_committee_asks.py. An analyst's script for three sites, four limits and two units is notebooks/three_sites.py.
"""  # noqa: E501


def _signature(name, found):
    """A call as it is written, types left to the editor."""
    if not callable(found):
        return name
    parts = []
    keyword = False
    for one in inspect.signature(found).parameters.values():
        if one.name == "self" or (name.startswith("Study.") and one.name == "study"):
            continue
        if one.kind is one.KEYWORD_ONLY and not keyword:
            keyword = True
            parts.append("*")
        empty = one.default is inspect.Parameter.empty
        default = f"{one.default:g}" if isinstance(one.default, float) else repr(one.default)
        parts.append(one.name if empty else f"{one.name}={default}")
    return f"{name}({', '.join(parts)})"


def _section(name, found, level="##"):
    return f"{level} {name}\n\n```text\n{_signature(name, found)}\n\n{inspect.getdoc(found)}\n```\n"


def _class(name, members):
    found = getattr(dw, name)
    text = f"## {name}\n\n```text\n{inspect.getdoc(found)}\n```\n"
    return "\n".join([text, *(_section(f"{name}.{m}", getattr(found, m), "###") for m in members)])


def python_page():
    """The page as it must be."""
    parts = [INTRO]
    for name in dw.__all__:
        found = getattr(dw, name)
        if name == "Case":
            parts.append(_class(name, CASE))
        elif name == "Study":
            parts.append(_class(name, STUDY))
        elif inspect.ismodule(found):
            parts.append(f"## {name}\n\n```text\n{inspect.getdoc(found)}\n```\n")
            parts += [
                _section(f"{name}.{inner}", function, "###")
                for inner, function in inspect.getmembers(found, inspect.isfunction)
                if not inner.startswith("_") and function.__module__ == found.__name__
            ]
        elif inspect.isclass(found):
            parts.append(_class(name, ()))
        else:
            parts.append(_section(name, found))
    return "\n".join(parts)


def test_the_page_is_that_of_the_docstrings():
    found = PAGE.read_text(encoding="utf-8")
    assert found == python_page(), "run python tests/command/test_python_page.py"


if __name__ == "__main__":
    PAGE.write_text(python_page(), encoding="utf-8")
