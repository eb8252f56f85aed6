"""How many printed pages each part of the report is, on both papers; and that none is torn."""

import base64
import re
import shutil

import pytest

from dewledger.case import bundled_case
from dewledger.reports.files.report_parts import report_parts
from dewledger.reports.page.report import page
from dewledger.study import run_study

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(
        not (shutil.which("chromium") and shutil.which("chromedriver")),
        reason="chromium and chromedriver are not on this machine",
    ),
]
PAPERS = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}
# Least and most pages of a part for one reader: what its reader has been promised.
PAGES = {"summary": (1, 1), "code": (1, 2), "engineer": (4, 6)}
CASES = ("music-school", "clinic", "museum-store")


@pytest.fixture(scope="module", params=CASES)
def solved(request):
    return run_study(bundled_case(request.param))


def printed_pages(browser, file, paper):
    """Pages of an HTML file as the browser prints it."""
    browser.get(file.as_uri())
    width, height = PAPERS[paper]
    made = browser.execute_cdp_cmd(
        "Page.printToPDF",
        {"paperWidth": width, "paperHeight": height, "preferCSSPageSize": False,
         "printBackground": True},
    )  # fmt: skip
    return len(re.findall(rb"/Type\s*/Page\b", base64.b64decode(made["data"])))


@pytest.mark.parametrize("part", PAGES)
def test_each_part_keeps_to_its_pages(solved, browser, tmp_path, part):
    file = tmp_path / f"{part}.html"
    file.write_text(page(solved, report_parts(solved, part), date="1 May 2024"), encoding="utf-8")
    least, most = PAGES[part]
    found = {paper: printed_pages(browser, file, paper) for paper in PAPERS}
    assert all(least <= pages <= most for pages in found.values()), found
