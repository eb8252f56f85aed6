"""The report in a browser and on paper: nothing fetched, nothing overflows, readable, not torn."""

import functools
import http.server
import itertools
import json
import re
import shutil
import subprocess
import threading

import pytest
from measured_case import measured_study
from on_pages import IN_A_BROWSER, PAPERS

from dewledger.reports.files.writer import write_outputs

pytestmark = IN_A_BROWSER


@pytest.fixture(scope="module")
def folder(study, tmp_path_factory):
    """The demo with bills, trends and a sensitivity: every section that a report may have."""
    made = tmp_path_factory.mktemp("browser")
    write_outputs(measured_study(study, made), made / "out", formats=("html",), date="1 May 2024")
    return made / "out"


@pytest.fixture(scope="module")
def asked(folder):
    """The page served, and the paths asked for: a page that needs itself alone asks for one."""
    paths = []

    class Quiet(http.server.SimpleHTTPRequestHandler):
        def log_message(self, *args):
            paths.append(self.path)

    handler = functools.partial(Quiet, directory=str(folder))
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}/report.html", paths
    server.shutdown()
    server.server_close()


@pytest.fixture
def page(browser, folder):
    browser.get((folder / "report.html").as_uri())
    return browser


def resize(browser, width):
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 600},
    )


def test_nothing_is_said_on_the_console_and_nothing_is_fetched(browser, asked):
    url, paths = asked
    browser.get_log("browser")
    browser.get_log("performance")
    browser.get(url)
    assert browser.get_log("browser") == []
    sent = [json.loads(entry["message"])["message"] for entry in browser.get_log("performance")]
    urls = [
        m["params"]["request"]["url"] for m in sent if m["method"] == "Network.requestWillBeSent"
    ]
    assert [u for u in urls if not u.startswith("data:")] == [url]
    assert paths == ["/report.html"]


@pytest.mark.parametrize("width", [1280, 400])
def test_nothing_overflows(page, width):
    resize(page, width)
    wide = page.execute_script(
        """
        const scrolls = e => e.closest('.scroll, .picture');
        const edge = document.documentElement.clientWidth + 1;
        return [document.documentElement.scrollWidth,
            [...document.querySelectorAll('body *')].filter(
                e => !scrolls(e) && e.getBoundingClientRect().right > edge
            ).map(e => e.outerHTML.slice(0, 90))];
        """
    )
    assert wide[1] == []
    assert wide[0] <= width
    if width == 1280:  # on a desk no table need be pushed about
        pushed = page.execute_script(
            "return [...document.querySelectorAll('.scroll, .picture')].filter("
            "e => e.scrollWidth > e.clientWidth + 1).map(e => e.getAttribute('aria-label'))"
        )
        assert pushed == []


def test_every_section_that_a_report_may_have_is_there(page):
    found = page.execute_script("return [...document.querySelectorAll('section')].map(s => s.id)")
    wanted = {"summary", "engineer", "code", "cost", "appendix", "sensitivity", "meter", "handover"}
    assert wanted <= set(found)
    assert len(set(found)) == len(found)


def test_landmarks_are_told_apart(page):
    """WAI-ARIA: several landmarks of one role have names that differ; tables are groups."""
    names = page.execute_script(
        """return [...document.querySelectorAll('nav, main, header, footer, [role=region]')].map(
        e => (e.getAttribute('role') ?? e.tagName) + ' ' + (e.getAttribute('aria-label') ?? ''))"""
    )
    assert len(set(names)) == len(names)


def test_headings_step_down_one_at_a_time_from_one_title(page):
    levels = page.execute_script(
        "return [...document.querySelectorAll('h1,h2,h3,h4,h5,h6')].map(h => +h.tagName[1])"
    )
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(later - earlier <= 1 for earlier, later in itertools.pairwise(levels))
    assert len(levels) > 15


def test_every_picture_says_what_it_shows(page):
    said = page.execute_script(
        """return [...document.querySelectorAll('img, svg')].filter(e => !e.closest('svg svg'))
        .map(e => e.getAttribute('alt') ?? e.getAttribute('aria-label') ?? '')"""
    )
    assert len(said) > 8
    assert all(len(words) > 40 for words in said)
    assert page.execute_script("return document.documentElement.lang") == "en"


def luminance(color):
    """Relative luminance of sRGB, WCAG 2.2."""
    channels = [value / 255.0 for value in color]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first, second):
    light, dark = sorted((luminance(first), luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.published
def test_text_meets_contrast_aa(page):
    """WCAG 2.2, success criterion 1.4.3: 4.5:1, and 3:1 for large text (24 px, or 18.66 bold)."""
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21.0)
    found = page.execute_script(
        """
        const backdrop = e => {
            for (let n = e; n; n = n.parentElement) {
                const c = getComputedStyle(n).backgroundColor;
                if (!/, 0\\)$|transparent/.test(c)) return c;
            }
            return 'rgb(255, 255, 255)';
        };
        const seen = {};
        for (const e of document.querySelectorAll('body *')) {
            if (![...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())) continue;
            const s = getComputedStyle(e);
            const svg = e.closest('svg');
            const ink = svg ? (s.fill) : s.color;
            seen[[ink, svg ? 'rgb(255, 255, 255)' : backdrop(e), s.fontSize, s.fontWeight]] =
                e.textContent.trim().slice(0, 40);
        }
        return Object.entries(seen);
        """
    )
    assert len(found) > 5
    for look, words in found:
        colors = [
            tuple(float(v) for v in re.findall(r"[\d.]+", c)[:3])
            for c in re.findall(r"rgba?\([^)]*\)", look)
        ]
        size, weight = look.rsplit(",", 2)[1:]
        pixels = float(size.removesuffix("px"))
        large = pixels >= 24.0 or (pixels >= 18.66 and int(weight) >= 700)
        assert contrast(*colors) >= (3.0 if large else 4.5), (look, words)


@pytest.fixture(scope="module", params=PAPERS)
def paper(request, browser, folder, tmp_path_factory):
    """The report printed, as words with their boxes: [(page, width, height, [(x, y, word)])]."""
    import base64

    if not shutil.which("pdftotext"):
        pytest.skip("pdftotext is not on this machine")
    browser.get((folder / "report.html").as_uri())
    width, height = PAPERS[request.param]
    printed = browser.execute_cdp_cmd(
        "Page.printToPDF",
        {"paperWidth": width, "paperHeight": height, "preferCSSPageSize": False,
         "printBackground": True},
    )  # fmt: skip
    path = tmp_path_factory.mktemp("paper") / "report.pdf"
    path.write_bytes(base64.b64decode(printed["data"]))
    text = subprocess.run(
        ["pdftotext", "-bbox-layout", path, "-"], capture_output=True, text=True, check=True
    ).stdout
    pages = []
    for part in text.split("<page ")[1:]:
        size = [float(v) for v in re.findall(r'(?:width|height)="([\d.]+)"', part)[:2]]
        lines = [
            (
                tuple(float(v) for v in re.findall(r'="([\d.]+)"', line.split(">")[0])[:4]),
                re.findall(r"<word[^>]*>(.*?)</word>", line),
            )
            for line in part.split("<line ")[1:]
        ]
        pages.append((*size, lines))
    return pages


def test_pages_are_as_many_as_expected(paper):
    assert 18 <= len(paper) <= 40


def test_print_keeps_its_size_and_within_its_margins(paper):
    """Where something is too wide the browser shrinks all; body text is 9.6 pt, tables 8.2 pt."""
    for width, height, lines in paper:
        for (left, top, right, bottom), words in lines:
            assert left >= 15.0 / 25.4 * 72.0 - 2.0, words
            assert right <= width - 15.0 / 25.4 * 72.0 + 2.0, words
            assert top > 20.0, words
            assert bottom < height - 20.0, words


def texts(page):
    return [" ".join(words) for _, words in sorted(page[2], key=lambda line: line[0][1])]


def test_page_one_holds_answer_table_and_picture(paper):
    first = " ".join(texts(paper[0]))
    assert "The options over one year" in first
    assert "Annual site energy" in first
    assert "as they cross the meter, by end use" in first
    for question in ("Compared", "How much", "How sure", "Energy code", "What could change it"):
        assert question in first
    assert "Reviewed by, license no." in first


def test_no_heading_or_caption_is_left_alone_at_the_foot(page, paper):
    heads = page.execute_script(
        "return [...document.querySelectorAll('h2, h3, caption')].map(e => e.textContent)"
    )
    heads = {" ".join(head.split()) for head in heads}
    for number, sheet in enumerate(paper, 1):
        lines = texts(sheet)
        assert lines, number
        assert lines[-1] not in heads, (number, lines[-1])


def test_no_table_is_parted_from_its_head(page, paper):
    """A page that begins with a row of a long table begins with its head again."""
    heads = page.execute_script(
        """return [...document.querySelectorAll('table')].map(t => [
            t.caption.textContent,
            [...t.querySelectorAll('thead th')].map(h => h.firstChild.textContent)])"""
    )
    captions = {" ".join(caption.split()) for caption, _ in heads}
    firsts = {names[0] for _, names in heads if names} | {
        names[1] for _, names in heads if len(names) > 1
    }
    titles = page.execute_script(
        "return [...document.querySelectorAll('h1, h2, h3')].map(e => e.textContent)"
    )
    rows = page.execute_script(
        "return [...document.querySelectorAll('tbody th[scope=row]')].map(e => e.firstChild.data)"
    )
    rows = {" ".join(row.split()) for row in rows}
    starts = captions | firsts | {" ".join(title.split()) for title in titles}
    for number, sheet in enumerate(paper[1:], 2):
        first = texts(sheet)[0]
        if any(first.startswith(start) for start in starts if start):
            continue
        assert first not in rows, (number, first)
