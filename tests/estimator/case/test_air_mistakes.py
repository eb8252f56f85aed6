"""Mistakes in outdoor air, its devices, humidifier and envelope: one sentence with the remedy."""

import pytest
from former_premises import former_text

from dewledger.case import case_from_text
from dewledger.weather.errors import InputError

DEMO = former_text("music-school")


def sentence(text):
    with pytest.raises(InputError) as caught:
        case_from_text(text, ".", "hall.toml")
    message = str(caught.value)
    assert message.startswith("hall.toml: ")
    assert "\n" not in message
    return message.removeprefix("hall.toml: ")


def in_air(lines):
    return DEMO.replace('fan_power = "1500 W"\n', f'fan_power = "1500 W"\n{lines}\n', 1)


def with_table(table):
    return DEMO.replace("[heating]", f"{table}\n\n[heating]", 1)


def recovery(lines):
    return with_table(f"[air.recovery]\n{lines}")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (recovery('sensible = "120 %"'), '[air.recovery] sensible: "120 %" is out of range'),
        (recovery('latent = "60 %"'), "[air.recovery] sensible: this field is missing"),
        (recovery('sensible = "70 %"\nleakage = "60 %"'), "more than half the air"),
        (recovery('sensible = "70 %"\nlatnt = "60 %"'), '(did you mean "latent"?)'),
        (
            recovery('sensible = "70 %"\nbypass = false\n[air.economizer]'),
            "needs bypass = true in [air.recovery]",
        ),
        (with_table('[air.economizer]\nflow = "5000 cfm"'), "is above supply_flow"),
        (with_table('[air.economizer]\ncontrol = "entalpy"'), '(did you mean "enthalpy"?)'),
        (
            with_table("[air.economizer]").replace('fan = "continuous"', 'fan = "cycling"'),
            'needs fan = "continuous"',
        ),
        (in_air('outdoor_per_area = "0.06 cfm/ft2"'), "outdoor_flow and outdoor_per_area are both"),
        (in_air("demand_control = true"), 'for example outdoor_per_person = "7.5 cfm/person"'),
        (
            in_air('outdoor_per_person = "100 cfm/person"').replace('outdoor_flow = "840 cfm"', ""),
            "people and area require 6000 cfm of outdoor air, more than the least supply flow",
        ),
        (in_air('minimum_flow = "50 %"'), 'yet flow_control is "constant"'),
        (
            in_air('flow_control = "variable"\nminimum_flow = "20 %"'),
            'outdoor_flow "840 cfm" is above the supply flow at minimum_flow "20 %"',
        ),
        (
            in_air('flow_control = "two-speed"\nleaving_temperature = "55 degF"'),
            'belongs to flow_control = "variable"',
        ),
        (
            in_air('flow_control = "variable"').replace('ied = "continuous"', 'ied = "cycling"'),
            "needs a continuous fan",
        ),
        (
            in_air('flow_control = "variable"\nreset_from = "80 degF"'),
            'reset_from "80 degF" is not below reset_to "80 degF"',
        ),
        (
            in_air('flow_control = "variable"\nleaving_temperature_mild = "50 degF"'),
            "the air may only be warmer in mild weather",
        ),
        (with_table('[humidifier]\nlimit = "54 %"'), "not below the drying limit of [humidity]"),
        (with_table('[humidifier]\nlimit = "40 degF"'), "[humidifier] limit: "),
        (with_table('[humidifier]\nsource = "adiabatic"\nefficiency = "90 %"'), "no efficiency"),
        (with_table("[humidifier]\npower_per_flow = 0.02"), 'belongs to source = "adiabatic"'),
        (
            with_table('[envelope]\nopaque_conductance = "500 Btu/h/degF"'),
            "[room] conductance and [envelope] are both given",
        ),
        (
            DEMO.replace('conductance = "800 Btu/h/degF"\n', "", 1),
            "[room] conductance is missing; write for example",
        ),
        (
            with_table(
                '[envelope]\nopaque_conductance = "1 W/K"\nwindow_conductance = "9 W/K"\n'
                'wall_area = "20 ft2"\nwindows = [{ area = "30 ft2", azimuth = 180 }]'
            ),
            'the windows come to 3 m2, more than wall_area "20 ft2"',
        ),
        (
            with_table(
                '[envelope]\nopaque_conductance = "1 W/K"\n'
                'windows = [{ area = "30 ft2", azimuth = 180 }]'
            ),
            "windows are given without window_conductance",
        ),
        (
            with_table(
                '[envelope]\nopaque_conductance = "1 W/K"\nwindow_conductance = "9 W/K"\n'
                'windows = [{ area = "30 ft2", azimuth = 400 }]'
            ),
            "400 is above 360",
        ),
    ],
)
def test_one_sentence(text, says):
    assert says in sentence(text)


def test_conductance_beyond_the_mass():
    from dewledger.assembly.machine import assemble
    from dewledger.study import read_weather

    lines = [
        line
        for line in DEMO.splitlines()
        if not line.startswith(("conductance", "heat_capacity_per_area"))
    ]
    text = "\n".join(lines).replace(
        "[heating]", '[envelope]\nopaque_conductance = "90000 W/K"\n\n[heating]', 1
    )
    case = case_from_text(text)
    with pytest.raises(InputError, match=r"^\[envelope\] conductances of 90000 W/K are more than"):
        assemble(case.option_cases()[0], read_weather(case))


@pytest.mark.parametrize(
    "text",
    [
        in_air('flow_control = "variable"'),
        recovery('sensible = "70 %"\nlatent_low = "60 %"\n[air.economizer]'),
        in_air('outdoor_per_area = "0.06 cfm/ft2"').replace('outdoor_flow = "840 cfm"', ""),
        with_table('[humidifier]\nsource = "adiabatic"'),
        with_table('[humidifier]\nlimit = "42 %"'),
        "\n".join(
            line
            for line in with_table(
                '[envelope]\nopaque_conductance = "500 W/K"\nwindow_conductance = "90 W/K"\n'
                'windows = [{ area = "30 ft2", azimuth = 180 }]'
            ).splitlines()
            if not line.startswith(('conductance = "800', "heat_capacity_per_area"))
        ),
    ],
)
def test_reads_back_equal(text):
    case = case_from_text(text)
    assert case_from_text(case.to_toml()) == case
