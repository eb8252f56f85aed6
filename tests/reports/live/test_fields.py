"""Every field of the live page is a question of the table, with a place in every bundled case."""

import pytest

from dewledger.case import bundled_case, starter_kinds
from dewledger.interview.answers import FIELDS
from dewledger.interview.in_case import answered
from dewledger.reports.live.fields import GROUPS, LEVERS, field_content, page_fields

_NOT_IN_EVERY_CASE = ("reheat", "display", "limit", "effectiveness", "supply_dew_point")


def named(case, name):
    return next(one for one in page_fields(case) if one.name == name)


@pytest.mark.parametrize("kind", list(starter_kinds()))
def test_fields_of_every_kind(kind):
    case = bundled_case(kind)
    origins = case.origins
    names = set()
    for field in page_fields(case):
        content = field_content(field, case, case, origins=origins)
        names.add(field.field.key)
        assert FIELDS[field.field.key] is field.field
        assert content["label"]
        assert content["group"] in (LEVERS, *GROUPS)
        assert content["help"].endswith(".")
        assert content["origin"] in ("given", "starter", "assumed", "not stated")
        slider = content.get("slider")
        if slider is not None:
            assert slider["low"] <= slider["value"] <= slider["high"]
            assert slider["step"] > 0
    # All that is asked at a terminal is asked here, but for the reheat of an outdoor-air unit,
    # which is an option of the case.
    asked = {key for key in FIELDS if key not in _NOT_IN_EVERY_CASE}
    assert names >= asked


def test_the_limit_has_a_slider_with_the_value_of_the_case_marked():
    case = bundled_case("rooftop")
    limit = named(case, "limit")
    content = field_content(limit, answered(case, {"limit": "48 %"}), case)
    slider = content["slider"]
    assert (slider["low"], slider["high"], content["unit"]) == (35.0, 70.0, "%")
    assert slider["value"] == 48.0
    assert slider["mark"] == 60.0
    assert content["origin"] == "given"


def test_a_unit_shown_is_another_way_to_write_the_same_value():
    """75 F is 23.89 C: (75 - 32) / 1.8."""
    case = bundled_case("rooftop")
    field = named(case, "cooling")
    assert field_content(field, case, case)["text"] == "75 degF"
    assert field_content(field, case, case, "degC")["text"] == "23.89 degC"
    capacity = field_content(named(case, "capacity"), case, case, "kW")
    assert capacity["text"] == "17.58 kW"  # 5 x 3.51685 kW
    assert capacity["slider"]["mark"] == pytest.approx(17.5843, abs=1e-3)


def test_what_the_sliders_send_is_taken():
    """Both ends of every slider, as the page would write them."""
    case = bundled_case("rooftop")
    for field in page_fields(case):
        content = field_content(field, case, case)
        slider = content.get("slider")
        if slider is None or field.name == "capacity":  # a rating its air flow must allow
            continue
        for end in ("low", "high"):
            assert answered(case, {field.name: f"{slider[end]:g} {content['unit']}"})
