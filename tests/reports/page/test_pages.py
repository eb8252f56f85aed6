"""How many printed pages each part of the report is, on both papers; and that none is torn."""

import base64
import re
import shutil
import subprocess

import pytest
from on_pages import IN_A_BROWSER, PAPERS

from dewledger.case import bundled_case
from dewledger.reports.files.report_parts import report_parts
from dewledger.reports.page.report import page
from dewledger.study import run_study

pytestmark = IN_A_BROWSER
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


@pytest.fixture(scope="module")
def parts(solved, tmp_path_factory):
    """Every part of a case's report as a page of its own, by its name."""
    place = tmp_path_factory.mktemp("parts")
    files = {}
    for part in ("summary", "engineer", "code", "money", "appendix"):
        files[part] = place / f"{part}.html"
        text = page(solved, report_parts(solved, part), date="1 May 2024")
        files[part].write_text(text, encoding="utf-8")
    return files


@pytest.mark.parametrize("width", [1280, 400])
def test_no_part_overflows(parts, browser, width):
    for part, file in parts.items():
        browser.get(file.as_uri())
        browser.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride",
            {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 600},
        )
        wide, pushed = browser.execute_script(
            """
            const edge = document.documentElement.clientWidth + 1;
            return [
                [...document.querySelectorAll('body *')].filter(e => !e.closest('.scroll, .picture')
                    && e.getBoundingClientRect().right > edge).map(e => e.outerHTML.slice(0, 90)),
                [...document.querySelectorAll('.scroll, .picture')].filter(
                    e => e.scrollWidth > e.clientWidth + 1).map(e => e.getAttribute('aria-label'))];
            """
        )
        browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
        assert wide == [], part
        if width == 1280:  # on a desk no table need be pushed about
            assert pushed == [], part


@pytest.mark.parametrize("paper", PAPERS)
def test_no_part_is_printed_beyond_its_margins(parts, browser, paper, tmp_path):
    """Words within the margins of 15 mm; words of a picture too."""
    if not shutil.which("pdftotext"):
        pytest.skip("pdftotext is not on this machine")
    width, height = PAPERS[paper]
    for part, file in parts.items():
        browser.get(file.as_uri())
        made = browser.execute_cdp_cmd(
            "Page.printToPDF",
            {"paperWidth": width, "paperHeight": height, "preferCSSPageSize": False,
             "printBackground": True},
        )  # fmt: skip
        (tmp_path / "part.pdf").write_bytes(base64.b64decode(made["data"]))
        done = subprocess.run(
            ["pdftotext", "-bbox", tmp_path / "part.pdf", "-"],
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        words = re.findall(r'<word xMin="([\d.-]+)"[^>]* xMax="([\d.-]+)"[^>]*>(.*?)<', done.stdout)
        assert len(words) > 100, part
        edge = 15.0 / 25.4 * 72.0 - 2.0
        for left, right, word in words:
            assert float(left) >= edge, (part, word)
            assert float(right) <= 72.0 * width - edge, (part, word)


@pytest.mark.parametrize("part", PAGES)
def test_each_part_keeps_to_its_pages(parts, browser, part):
    least, most = PAGES[part]
    found = {paper: printed_pages(browser, parts[part], paper) for paper in PAPERS}
    assert all(least <= pages <= most for pages in found.values()), found
