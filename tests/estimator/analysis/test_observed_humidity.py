"""What users see in the room beside what is modeled, by hand."""

import numpy as np
import pytest

from dewledger.accounts.energy import column
from dewledger.analysis.observed_humidity import ObservedHumidity, observed, worst_humidity
from dewledger.analysis.protection import protection
from dewledger.assembly.machine import assemble
from dewledger.case import bundled_text, case_from_text
from dewledger.study import solve_option
from dewledger.weather.errors import InputError
from dewledger.weather.files.readers import read


def test_the_worst_is_what_one_hour_in_a_hundred_exceeds():
    """8,760 hours from 0 to 1 in equal steps: 99 % of them lie at or below 0.99."""
    assert worst_humidity(np.linspace(0.0, 1.0, 8760)) == pytest.approx(0.99)


@pytest.mark.parametrize(
    ("seen", "modeled", "agrees", "says"),
    [
        (0.70, 0.75, True, "they agree within 5 points"),
        (0.70, 0.65, True, "they agree within 5 points"),
        (
            0.70,
            0.76,
            False,
            "damper than the room, and the cost of drying it is then reported too high",
        ),
        (
            0.70,
            0.60,
            False,
            "drier than the room, and the cost of drying it is then reported too low",
        ),
    ],
)
def test_what_is_seen_and_what_is_modeled(seen, modeled, agrees, says):
    found = ObservedHumidity(seen, modeled)
    assert found.agrees is agrees
    assert says in found.sentence
    assert found.sentence.startswith(f"Users say that the room gets up to {100 * seen:.0f} % RH")


def test_nothing_is_said_where_nobody_saw_anything():
    assert observed(None, np.zeros(8760)) is None


DEMO = bundled_text("music-school")


def seen(text):
    """The demo with what is seen with its first option."""
    return DEMO.replace('humidity = { control = "none" }',
                        f'humidity = {{ control = "none", observed_high = "{text}" }}')  # fmt: skip


def test_a_finding_where_they_do_not_agree():
    year = read("greensboro")
    option = case_from_text(seen("45 %")).option_cases()[0]
    machine = assemble(option, year)
    ledger = solve_option(machine)
    modeled = worst_humidity(column(ledger, "room_rh_frac"))
    (found,) = (
        one for one in protection(option, machine, ledger, "I-P") if one.key == "humidity as seen"
    )
    assert found.figure == pytest.approx(modeled)
    assert f"gets to {100 * modeled:.0f} % RH" in found.sentence
    agreeing = case_from_text(seen(f"{100 * modeled:.1f} %")).option_cases()[0]
    reported = {one.key for one in protection(agreeing, machine, ledger, "I-P")}
    assert "humidity as seen" not in reported


def test_what_is_seen_belongs_to_one_option():
    with pytest.raises(InputError, match=r"write it in that option, such as \[options.today"):
        case_from_text(DEMO.replace("[humidity]", '[humidity]\nobserved_high = "70 %"'))
