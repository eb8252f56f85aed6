"""The vocabulary: US engineering English in every text of the product, one word for one thing.

A row gives what is not written, as whole words in small or capital letters, and what to write
instead. Code, comments, messages, data and pages alike.
"""

import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FORBIDDEN = (
    # spelling
    ("mouldy?|vapours?|licence[sd]?|modelled|modelling", "mold, vapor, license, modeled"),
    ("colours?|coloured|behaviours?|favours?|neighbours?|honours?", "color, behavior, neighbor"),
    ("(?:centi|milli|kilo)?metres?|litres?|centres?|fibres?", "meter, liter, center"),
    ("ageing|grey|whilst|amongst|towards|programmes?|catalogues?|labelled", "aging, gray"),
    ("cancelled|cancelling|travell\\w+|judgements?|artefacts?|practis\\w+|aluminium", "canceled"),
    ("(?:organ|recogn|minim|maxim|optim|summar|normal|util|emphas|character|general|stabil|pressur"
     "|standard|final|initial|visual|synchron|author|vapor|vector|linear|humid)"
     "is(?:e[sd]?|ing|ations?|ers?)", "-ize"),
    ("analys(?:e|ed|ing)", "analyze"),
    # the trade's words
    ("moisture calls?", "dehumidification call"),
    ("flat out", "at full capacity"),
    ("undried", "sensible-only"),
    ("(?:given|gives?|giving|gave) (?:it |them |water |heat )?back", "reheat, recovered"),
    ("bought|buys?|buying", "purchased"),
    ("left short|shortfalls?", "unmet"),
    ("price of recovery", "recovery penalty"),
    ("costs? of a year|costs of the year", "annual energy cost"),
    ("longest spell", "longest consecutive hours"),
    ("easing off|ease off|eases off", "limit dehumidification"),
    # plain speech
    ("from memory", "read in the source, read second-hand, or not checked against the text"),
    ("told|tells?|telling|story", "reported, shown, distinguished"),
    ("beside", "next to, with, in addition to"),
    ("swung", "varied"),
    ("ballpark|be had", "approximate, available"),
    ("mended|mending|mends?", "correct"),
)  # fmt: skip
KINDS = {".py", ".toml", ".csv", ".html", ".js", ".css", ".md", ".cff"}
PLACES = ("estimator", "weather", "reports", "docs", "README.md", "DEVELOPERS.md",
          "CONTRIBUTING.md", "CITATION.cff")  # fmt: skip


def texts():
    done = subprocess.run(
        ["git", "ls-files", *PLACES], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if done.returncode != 0:
        pytest.skip("not a checkout of the project's repository")
    for name in done.stdout.split():
        if Path(name).suffix in KINDS:
            yield name, (ROOT / name).read_text(encoding="utf-8")


@pytest.mark.parametrize(("words", "instead"), FORBIDDEN, ids=[row[1] for row in FORBIDDEN])
def test_a_word_is_not_used(words, instead):
    pattern = re.compile(rf"\b(?:{words})\b", re.IGNORECASE)
    found = [
        f"{name}:{number}: {match[0]!r} in {line.strip()[:90]}"
        for name, text in texts()
        for number, line in enumerate(text.splitlines(), 1)
        for match in pattern.finditer(line)
    ]
    assert not found, f"write {instead}:\n" + "\n".join(found)


def test_a_temperature_swings_and_a_sensitivity_does_not():
    for name, text in texts():
        if re.search(r"sensitivity|monte_carlo|assum", name):
            assert not re.search(r"\bswings?\b", text, re.IGNORECASE), name
