"""--date: printed on the report; the same run twice gives the same bytes."""

import pytest


@pytest.mark.slow
def test_date_is_printed_and_two_runs_are_byte_identical(dewledger, case, tmp_path):
    for name in ("one", "two"):
        said = dewledger(
            "run", case(), "--out", tmp_path / name, "--date", "1 May 2024",
            "--format", "html,csv,json,toml,svg,xlsx",
        )  # fmt: skip
        assert said.code == 0, said.err
    files = sorted(path.name for path in (tmp_path / "one").iterdir())
    assert files == sorted(path.name for path in (tmp_path / "two").iterdir())
    for name in files:
        first, second = ((tmp_path / run / name).read_bytes() for run in ("one", "two"))
        assert first == second, name
    html = (tmp_path / "one" / "report.html").read_text(encoding="utf-8")
    assert html.count("1 May 2024") == 2  # under the title and at the foot


def test_without_a_date_the_report_carries_none(dewledger, case, tmp_path):
    said = dewledger("run", case(), "--out", tmp_path / "none", "--format", "html")
    assert said.code == 0, said.err
    html = (tmp_path / "none" / "report.html").read_text(encoding="utf-8")
    assert "<title>Print room" in html
    assert "1 May 2024" not in html
