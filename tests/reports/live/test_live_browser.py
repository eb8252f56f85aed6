"""The live page in a browser: moved, mistyped, reloaded, its server ended; by keyboard, narrow, in
light and dark, printed. Conditions are waited for; what moves take is told, never asserted."""

import base64
import contextlib
import json
import os
import signal
import socket
import statistics
import subprocess
import sys
import time
from pathlib import Path

import pytest

pytest.importorskip("selenium", reason="selenium is not installed")
from on_pages import IN_A_BROWSER
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.common.keys import Keys
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect

pytestmark = IN_A_BROWSER
PATIENCE_S = 180


class Server:
    """The command with --no-browser in a folder of its own."""

    def __init__(self, folder, port=0):
        self.folder = folder
        self.process = subprocess.Popen(
            [sys.executable, "-m", "dewledger", "live", "--no-browser", "--port", str(port)],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=folder,
        )  # fmt: skip
        self.address = self.process.stdout.readline().strip()
        self.port = int(self.address.split(":")[2].split("/")[0])

    def cpu_s(self):
        """Processor time so far: of the process, all its threads."""
        fields = Path(f"/proc/{self.process.pid}/stat").read_text().rpartition(")")[2].split()
        return sum(map(int, fields[11:13])) / os.sysconf("SC_CLK_TCK")

    def end(self, number=signal.SIGINT):
        self.process.send_signal(number)
        return self.process.communicate(timeout=PATIENCE_S)


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    running = Server(tmp_path_factory.mktemp("live"))
    yield running
    if running.process.poll() is None:
        running.end()


def until(browser, script, *arguments):
    """Wait until a script says something; what it says."""
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        try:
            found = browser.execute_script(script, *arguments)
        except WebDriverException:
            found = None
        if found:
            return found
        time.sleep(0.02)
    raise AssertionError(f"never true: {script}")


def look(browser, width, dark=False):
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": False},
    )
    scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [scheme]})


@pytest.fixture
def page(browser, server):
    """A tab of its own, at its first answer."""
    first = browser.current_window_handle
    browser.switch_to.new_window("tab")
    look(browser, 1280)
    browser.get(server.address)
    answered(browser, 0)
    yield browser
    browser.close()
    browser.switch_to.window(first)


def answered(browser, number):
    until(browser, "return Number(document.body.dataset.answered) >= arguments[0]", number)


ENTRY = "[data-name='{}'] [data-entry]"


def entry(browser, name):
    return browser.find_element("css selector", ENTRY.format(name))


def write(browser, name, text):
    box = entry(browser, name)
    box.send_keys(Keys.CONTROL + "a")
    box.send_keys(text + Keys.TAB)


def table(browser):
    return browser.execute_script("return document.getElementById('table').innerText")


def changes(browser):
    return browser.execute_script(
        "return [...document.querySelectorAll('#changed li span')].map(e => e.textContent)"
    )


def test_a_change_a_mistake_mended_and_undone(page):
    before = table(page)
    write(page, "limit", "48")
    answered(page, 1)
    changed = table(page)
    assert changed != before
    assert changes(page) == ["Humidity limit: 60 % → 48 %"]
    write(page, "limit", "lots")
    told = until(page, "return document.querySelector('.refused:not([hidden])')?.innerText")
    assert "write for example" in told
    assert entry(page, "limit").get_attribute("aria-invalid") == "true"
    assert table(page) == changed  # the last good answer stays
    write(page, "limit", "50 %")
    answered(page, 3)
    assert page.execute_script("return document.querySelectorAll('.refused:not([hidden])').length"
                               ) == 0  # fmt: skip
    page.find_element("id", "undo").click()
    answered(page, 4)
    assert changes(page) == ["Humidity limit: 60 % → 48 %"]
    page.find_element("css selector", "#changed button").click()
    answered(page, 5)
    assert table(page) == before
    assert changes(page) == []


def test_thirty_moves_of_a_slider_and_none_is_lost(page, server, record_property, capsys):
    """Each move is waited for, so that its time can be told; then thirty at once."""
    move = """
        const range = document.querySelector("[data-name='limit'] input[type=range]");
        const done = arguments[arguments.length - 1];
        const began = performance.now();
        const before = Number(document.body.dataset.answered);
        const look = new MutationObserver(() => {
          if (Number(document.body.dataset.answered) > before) {
            look.disconnect(); done(performance.now() - began);
          }
        });
        look.observe(document.body, { attributes: true });
        range.value = arguments[0];
        range.dispatchEvent(new Event("input"));
    """
    until(page, "return document.body.dataset.judged")
    walls, cpus = [], []
    for step in range(30):
        used = server.cpu_s()
        walls.append(page.execute_async_script(move, 40 + step % 25))
        cpus.append(server.cpu_s() - used)
    took = (
        f"30 moves: median {statistics.median(walls):.0f} ms from move to new table, "
        f"{1000 * statistics.median(cpus):.0f} ms of the server's processor, "
        f"load {os.getloadavg()[0]:.1f}"
    )
    record_property("moves", took)
    with capsys.disabled():
        print(f"\n{took}")
    page.execute_script(
        """const range = document.querySelector("[data-name='limit'] input[type=range]");
        for (let value = 40; value < 70; value += 1) {
          range.value = value; range.dispatchEvent(new Event("input"));
        }
        range.dispatchEvent(new Event("change"));"""
    )
    until(page, "return document.querySelector('#changed span')?.textContent.endsWith('→ 69 %')")
    until(page, "return document.getElementById('working').textContent === '' && "
          "document.body.dataset.judged === document.body.dataset.answered")  # fmt: skip
    assert entry(page, "limit").get_attribute("value") == "69"
    assert len(changes(page)) == 1


def test_two_tabs_and_a_reload_keep_their_state(page, server):
    write(page, "limit", "45")
    answered(page, 1)
    mine = table(page)
    one = page.current_window_handle
    page.switch_to.new_window("tab")
    page.get(server.address)
    answered(page, 0)
    assert changes(page) == []
    page.close()
    page.switch_to.window(one)
    page.refresh()
    until(page, "return document.getElementById('changed').children.length === 1")
    until(page, "return document.getElementById('table').innerText === arguments[0]", mine)


def test_its_server_killed_and_started_again(browser, tmp_path):
    first = browser.current_window_handle
    running = Server(tmp_path)
    browser.switch_to.new_window("tab")
    try:
        browser.get(running.address)
        answered(browser, 0)
        write(browser, "limit", "45")
        answered(browser, 1)
        mine = table(browser)
        running.end(signal.SIGKILL)
        until(browser, "return document.getElementById('banner').innerText.includes('has ended')")
        assert table(browser) == mine
        running = Server(tmp_path, running.port)
        browser.get(running.address)
        until(browser, "return document.getElementById('changed').children.length === 1")
        until(browser, "return document.getElementById('table').innerText === arguments[0]", mine)
        out, err = running.end()
        assert out == ""
        (saved,) = tmp_path.glob("*.toml")
        assert str(saved.name) in err
        assert 'limit = "45 %"' in saved.read_text()
    finally:
        browser.close()
        browser.switch_to.window(first)
        running.process.kill()
        running.process.wait(PATIENCE_S)


def test_a_kept_state_an_hour_a_unit_and_the_band(page):
    page.find_element("id", "keep").click()
    until(page, "return !document.getElementById('kept').hidden")
    write(page, "limit", "50")
    answered(page, 1)
    until(page, "return document.getElementById('kept-differs').innerText.includes('60 % → 50 %')")
    until(page, "return document.getElementById('kept-table').innerText.includes('+')")
    page.execute_script("document.querySelector('#one-hour').scrollIntoView()")
    page.find_element("id", "map").click()
    until(page, "return document.querySelector('#hour-picture img')?.alt.length > 20")
    unit = page.find_element("css selector", "[data-name='capacity'] select.unit")
    unit.send_keys("kW")
    until(page, f"return document.querySelector(\"{ENTRY.format('capacity')}\").value === '17.58'")
    page.find_element("id", "band").click()
    until(page, "return document.querySelectorAll('#band-table tbody tr').length >= 2")


def test_by_keyboard_alone_with_a_name_on_everything(page):
    page.execute_script("for (const one of document.querySelectorAll('details')) one.open = true")
    unnamed = page.execute_script(
        """return [...document.querySelectorAll('input, select, button, a, summary')].filter(e =>
           !(e.labels && e.labels.length) && !e.getAttribute('aria-label') && !e.innerText.trim())
           .map(e => e.outerHTML)"""
    )
    assert unnamed == []
    page.execute_script("window.reached = new Set(); document.addEventListener('focusin', "
                        "(event) => window.reached.add(event.target))")  # fmt: skip
    body = page.find_element("tag name", "body")
    body.send_keys(Keys.TAB)
    for _ in range(150):
        page.switch_to.active_element.send_keys(Keys.TAB)
    missed = page.execute_script(
        """return [...document.querySelectorAll('input, select, button, summary')].filter(e =>
           !e.disabled && e.offsetParent && !window.reached.has(e)
           && !(e.type === 'radio' && !e.checked)).map(e => e.outerHTML)"""
    )
    assert missed == []
    answer = int(page.execute_script("return document.body.dataset.answered"))
    slider = page.find_element("css selector", "[data-name='limit'] input[type=range]")
    slider.send_keys(Keys.ARROW_LEFT)
    answered(page, answer + 1)
    assert changes(page) == ["Humidity limit: 60 % → 59.8 %"]


@pytest.mark.parametrize("width", [1280, 400])
@pytest.mark.parametrize("dark", [False, True])
def test_nothing_runs_over_and_the_colors_follow(page, width, dark):
    look(page, width, dark)
    until(page, "return document.body.dataset.judged")
    page.execute_script("for (const one of document.querySelectorAll('details')) one.open = true")
    inner, outer = page.execute_script(
        "return [document.documentElement.scrollWidth, document.documentElement.clientWidth]"
    )
    assert inner <= outer
    over = page.execute_script(
        """const box = document.querySelector('.controls').getBoundingClientRect();
        return [...document.querySelectorAll('.controls *')].filter(e => e.offsetParent &&
          e.getBoundingClientRect().right > box.right + 1).map(e => e.outerHTML.slice(0, 90))"""
    )
    assert over == []
    ground = page.execute_script("return getComputedStyle(document.body).backgroundColor")
    assert ground == ("rgb(23, 32, 38)" if dark else "rgb(255, 255, 255)")


def test_printed_it_is_the_summary(page):
    until(page, "return document.body.dataset.judged")
    page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    shown = page.find_element("tag name", "body").text
    assert "The options over one year" in shown
    assert "Energy code, and what must not pass unread" in shown
    assert "Save case.toml" not in shown
    assert "Levers" not in shown
    printed = base64.b64decode(page.execute_cdp_cmd("Page.printToPDF", {})["data"])
    assert printed.startswith(b"%PDF")
    page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


def test_without_scripts_it_says_what_to_run(page, server):
    page.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    page.get(server.address)
    text = page.find_element("tag name", "body").text
    page.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})
    assert "dewledger run CASE.toml" in text


def test_nothing_is_asked_of_another_place_and_nothing_fails(page, server):
    until(page, "return document.body.dataset.judged")
    asked = [line["message"] for line in page.get_log("performance")
             if '"Network.requestWillBeSent"' in line["message"]]  # fmt: skip
    assert asked
    for line in asked:
        url = line.partition('"url":"')[2].partition('"')[0]
        assert url.startswith((f"http://127.0.0.1:{server.port}/", "data:", "http://127.0.0.1:"))
    severe = [line for line in page.get_log("browser")
              if line["level"] == "SEVERE" and str(server.port) in line["message"]]  # fmt: skip
    assert severe == []


def test_the_report_written_is_that_of_the_command(page, server):
    """Of the case saved: the same files, and the same unrounded figures."""
    write(page, "limit", "51")
    answered(page, 1)
    page.find_element("id", "save").click()
    until(page, "return document.getElementById('written').innerText.startsWith('Wrote')")
    saved = Path(page.find_element("id", "written").text.removeprefix("Wrote "))
    page.find_element("id", "report").click()
    until(page, "return document.getElementById('written').innerText.includes('-results')")
    written = Path(page.find_element("id", "written").text.removeprefix("Wrote "))
    subprocess.run(
        [sys.executable, "-m", "dewledger", "run", saved.name, "--out", "by-command"],
        cwd=server.folder, check=True, capture_output=True,
    )  # fmt: skip
    mine, theirs = server.folder / written, server.folder / "by-command"
    names = sorted(path.name for path in mine.iterdir())
    assert names == sorted(path.name for path in theirs.iterdir())
    for name in names:
        if name.endswith(".csv"):
            assert (mine / name).read_bytes() == (theirs / name).read_bytes(), name
    one, other = (json.loads((place / "summary.json").read_text()) for place in (mine, theirs))
    assert one["options"] == other["options"]


def test_a_workbook_is_downloaded(page):
    page.find_element("id", "xlsx").click()
    until(page, "return document.getElementById('written').innerText === "
          "'Downloaded rooftop-results.xlsx'")  # fmt: skip


# What no browser of ours would send.


def raw(server, path, **headers):
    """The first line of what the server answers, as it stands on the wire."""
    lines = {"Host": f"127.0.0.1:{server.port}", "Connection": "close"} | headers
    head = "".join(f"{name}: {value}\r\n" for name, value in lines.items())
    with socket.create_connection(("127.0.0.1", server.port), timeout=PATIENCE_S) as wire:
        wire.sendall(f"GET {path} HTTP/1.1\r\n{head}\r\n".encode())
        found = b""
        while part := wire.recv(65536):
            found += part
    return int(found.split()[1]), found


def test_a_wrong_token_a_forged_host_and_ways_out_of_the_folder(server):
    home = "/" + server.address.split("/", 3)[3]
    token = home.split("/")[2]
    assert raw(server, home)[0] == 200
    assert raw(server, home, Host="evil.example")[0] >= 400
    for path in (
        "/", "/live/", "/live/wrong/", f"{home}../server.py", f"{home}..%2f..%2fserver.py",
        f"{home}%2e%2e/%2e%2e/%2e%2e/etc/passwd", f"{home}//etc/passwd", f"{home}live.py",
    ):  # fmt: skip
        code, found = raw(server, path)
        assert code in (403, 404), path
        assert token.encode() not in found
        assert b"root:" not in found


def to_its_end(tab):
    while True:
        tab.recv(PATIENCE_S)


def test_a_forged_origin_ten_megabytes_and_two_hundred_messages(server):
    address = server.address.replace("http:", "ws:") + "socket"
    for url, origin in ((address, "http://evil.example"),
                        (address.replace("/live/", "/live/x"), None)):  # fmt: skip
        with pytest.raises(InvalidStatus) as refused, connect(url, origin=origin):
            pass
        assert refused.value.response.status_code == 403
    with connect(address) as tab:
        tab.send('{"kind": "hello"}')
        tab.recv(PATIENCE_S)
        with contextlib.suppress(ConnectionClosed):
            tab.send("x" * 10_000_000)
        with pytest.raises(ConnectionClosed):
            to_its_end(tab)
    with connect(address) as tab:
        tab.send('{"kind": "hello"}')
        for number in range(1, 201):
            tab.send(f'{{"kind": "set", "name": "limit", "number": {number}, '
                     f'"value": "{45 + number % 10} %"}}')  # fmt: skip
        last = ""
        while not ('"kind": "answer"' in last and '"number": 200' in last):
            last = tab.recv(PATIENCE_S)
    assert raw(server, "/" + server.address.split("/", 3)[3])[0] == 200
