"""Every field of the live page is a place of every bundled case, a slider where it can move."""

import pytest

from dewledger.case import bundled_case, starter_kinds
from dewledger.reports.live.fields import all_fields, field_content


@pytest.mark.parametrize("kind", list(starter_kinds()))
def test_fields_of_every_kind(kind):
    case = bundled_case(kind)
    for field in all_fields(case):
        content = field_content(field, case, case, case.display)
        assert content["label"]
        assert content["help"].endswith(".")
        slider = content.get("slider")
        if slider is not None:
            assert slider["low"] <= slider["value"] <= slider["high"]
            assert slider["step"] > 0


def test_the_limit_has_a_slider_with_the_value_of_the_case_marked():
    case = bundled_case("rooftop")
    (limit,) = (field for field in all_fields(case) if field.path == "humidity.limit")
    slider = field_content(limit, case.with_values({"humidity.limit": "48 %"}), case, "I-P")[
        "slider"
    ]
    assert (slider["low"], slider["high"], slider["unit"]) == (35.0, 70.0, "%")
    assert slider["value"] == 48.0
    assert slider["mark"] == 55.0


def test_what_the_sliders_send_is_taken():
    """Both ends of every slider, as the page would write them."""
    case = bundled_case("rooftop")
    for field in all_fields(case):
        slider = field_content(field, case, case, "I-P").get("slider")
        if slider is None or field.path in ("humidity.range_low", "humidity.range_high"):
            continue
        for end in ("low", "high"):
            changed = f"{slider[end]:g} {slider['unit']}"
            if field.path.startswith("room.") and "setpoint" in field.path:
                continue  # two set points hold each other apart
            if field.path in ("air.supply_flow", "air.outdoor_flow", "humidity.limit"):
                continue  # likewise
            assert case.with_values({field.path: changed})
