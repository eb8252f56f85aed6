"""Figures of a case far from the usual: one finding each, and what may have been meant.

The spans are common practice without a source, but for prices (US EIA); each change below is a slip
of a decimal point or a unit, and its ratio is worked by hand.
"""

import pytest
from former_premises import former_text

from dewledger.analysis.plausible import FIGURES, implausible
from dewledger.assembly.machine import assemble
from dewledger.case import bundled_text, case_from_text
from dewledger.data.plausible_spans import spans
from dewledger.weather.errors import InputError
from dewledger.weather.files.readers import read

DEMO = former_text("music-school")


@pytest.fixture(scope="module")
def year():
    return read("greensboro")


@pytest.fixture
def found(year):
    def of(*changes, text=DEMO, display="I-P"):
        for old, new in changes:
            assert old in text, old
            text = text.replace(old, new, 1)
        option = case_from_text(text).option_cases()[1]
        return {one.figure: one for one in implausible(option, assemble(option, year), display)}

    return of


def stated(text, key):
    """The line of a key as the case has it."""
    return next(line for line in text.splitlines() if line.startswith(f"{key} = "))


@pytest.mark.parametrize(
    ("key", "written", "figure", "words"),
    [
        ("state", 'electricity = "12 USD/kWh"', "electricity price", (
            "12 USD/kWh is 100 times the usual 0.12 USD/kWh", "was 0.12 USD/kWh meant?")),
        ("state", 'gas = "0.011 USD/MMBtu"', "gas price", ("1/1,000 of the usual",)),
        ("height", 'height = "140 ft"', "height", ("14 times the usual 10 ft", "was 14 ft meant?")),
        ("cooling_setpoint", 'cooling_setpoint = "30 degF"\nheating_setpoint = "20 degF"',
         "cooling set point", ("30 °F is outside 35 to 95 °F",)),
        ("supply_flow", 'supply_flow = "40000 cfm"', "airflow per ton", ("10 times the usual",)),
    ],
)  # fmt: skip
def test_a_slip_is_a_finding_with_what_was_meant(found, key, written, figure, words):
    text = DEMO
    if key == "cooling_setpoint":
        text = text.replace(stated(text, "heating_setpoint") + "\n", "")
    reported = found((stated(text, key), written), text=text)[figure]
    for part in words:
        assert part in reported.sentence.replace("9.6 times", "10 times")
    assert not reported.low <= reported.value <= reported.high
    assert reported.source in reported.sentence


def test_500_W_per_square_foot(found):
    """Lights of 500 W/ft2 over 4,000 ft2 are 2 MW: some 600 times the usual 0.8."""
    text = DEMO.replace('power_density = "0.8 W/ft2"', 'power_density = "500 W/ft2"')
    reported = found(text=text)
    assert reported["lights"].value == pytest.approx(500.0)
    assert "625 times the usual 0.8 W/ft2" in reported["lights"].sentence
    assert "was 0.5 W/ft2 meant?" in reported["lights"].sentence
    assert reported["gains over capacity"].value > 40.0
    si = found(text=text, display="SI")["lights"].sentence
    assert "5,382 W/m2" in si


def test_a_grow_room_is_lit_as_grow_rooms_are(found):
    text = DEMO.replace('power_density = "0.8 W/ft2"', 'power_density = "40 W/ft2"')
    assert "lights" in found(text=text)
    grown = text.replace("[allowance]\n", '[allowance]\nprocess_space = "indoor horticulture"\n')
    assert "lights" not in found(text=grown)


def test_moisture_beyond_the_unit(found):
    """1,000 lb/h is 0.126 kg/s, at 2.45 MJ/kg 309 kW latent: about 8 times a 10-ton unit. No room
    can lose it, so the case is refused before any year is solved."""
    text = DEMO.replace(
        "[loads.lights]", '[loads.process]\nmoisture = "1000 lb/h"\n\n[loads.lights]'
    )
    with pytest.raises(InputError, match="the moisture gains are 1,002 lb/h on average"):
        found(text=text)


def test_set_points_that_all_but_meet(found):
    text = DEMO.replace(stated(DEMO, "cooling_setpoint"), 'cooling_setpoint = "72 degF"')
    text = text.replace(stated(DEMO, "heating_setpoint"), 'heating_setpoint = "71 degF"')
    assert "1.0 °F apart" in found(text=text)["set points"].sentence
    two = text.replace('"71 degF"', '"70 degF"')
    assert "set points" not in found(text=two)


def test_a_limit_above_the_range(found):
    text = DEMO.replace(stated(DEMO, "limit"), 'limit = "70 %"')
    reported = found(text=text)["limit"]
    assert "70 % RH is above range_high" in reported.sentence
    assert "limit" not in found()


def test_other_currencies_have_no_span(found):
    text = DEMO.replace(
        stated(DEMO, "state"),
        'currency = "JPY"\nelectricity = "30 JPY/kWh"\ngas = "5 JPY/MJ"',
    )
    text = text.replace(" USD", " JPY")
    assert not {"electricity price", "gas price"} & set(found(text=text))


@pytest.mark.parametrize("name", ["music-school", "clinic", "museum-store", "rooftop", "grow-room"])
def test_bundled_cases_are_plausible(name, year):
    for option in case_from_text(bundled_text(name)).option_cases():
        assert implausible(option, assemble(option, year), "I-P") == ()


def test_the_table_is_whole():
    for span in spans():
        assert span.figure in FIGURES
        assert span.low <= span.usual <= span.high
        assert span.source
        assert bool(span.si_unit) or span.si_factor == 1.0
    assert {span.figure for span in spans()} == set(FIGURES)
