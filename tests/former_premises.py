"""Premises of tests that are about something else: those of a unit as simple as it can be.

No water re-evaporated from a stopped coil, a compressor of constant efficiency, the residential
cycling form, one minimum condensing temperature, no air pressure drop nor lockout of a reheat coil.

former_cases/ holds whole cases of simple units (one stage or speed, constant flow, no economizer,
no stated process need), for tests of physics, of mistakes in a text and of what a code says of such
a unit. The bundled cases may change without them.
"""

import re
from pathlib import Path

from dewledger.case import Case, case_from_text

UNIT = """re_evaporation = { model = "none" }
compressor_curve = "constant"
cycling_degradation = "25 %"
drying_leaving_temperature = "55 degF"
reheat_condensing_floor = "90 degF"
"""
COIL = 'pressure_drop = "0 Pa"\nlockout_below = "-60 degF"\n'


def former_text(kind: str) -> str:
    """Text of a case of former_cases/, by its kind."""
    return (Path(__file__).parent / "former_cases" / f"{kind}.toml").read_text(encoding="utf-8")


def former_case(kind: str) -> Case:
    """A case of former_cases/, by its kind."""
    return case_from_text(former_text(kind))


def on_former_premises(text):
    """The text of a case, with these premises stated where it says nothing of them."""
    stated = "".join(
        line + "\n" for line in UNIT.splitlines() if f"\n{line.split(' = ')[0]} = " not in text
    )
    if "\ncondensing_floor" not in text:
        stated += 'condensing_floor = "90 degF"\n'
    text = text.replace("[unit]\n", "[unit]\n" + stated, 1)
    return coils_without_premises(text)


def coils_without_premises(text):
    """The text with no air pressure drop and no lockout at its condenser-heat coils."""
    inline = f'source = "condenser", {COIL.strip().replace(chr(10), ", ")}'
    text = text.replace('source = "condenser"\n', 'source = "condenser"\n' + COIL)
    return re.sub(r'(?<=\{ )source = "condenser"(?=[ ,])', inline, text)
