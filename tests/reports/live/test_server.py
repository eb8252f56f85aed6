"""The live page's server: who may connect, what a change does, what is refused."""

import json
import os
import signal
import subprocess
import sys
import tomllib
from pathlib import Path

import numpy as np
import pytest
from starlette.testclient import TestClient, WebSocketDenialResponse
from starlette.websockets import WebSocketDisconnect

from dewledger.case import bundled_text, case_from_text, load_case
from dewledger.reports.live.server import Live, app_of
from dewledger.study import run_study
from dewledger.weather.errors import InputError

HOST = {"host": "127.0.0.1:8000"}


@pytest.fixture
def live(tmp_path):
    return Live(case_from_text(bundled_text("rooftop"), tmp_path, "rooftop"), "rooftop")


@pytest.fixture
def client(live):
    with TestClient(app_of(live), base_url="http://127.0.0.1:8000") as client:
        yield client


def socket(client, live, **headers):
    return client.websocket_connect(f"/live/{live.token}/socket", headers=HOST | headers)


def until(tab, kind, number=None):
    """The next message of a kind (and number); those before it are passed over."""
    for _ in range(400):
        message = tab.receive_json()
        if message["kind"] == kind and (number is None or message.get("number") == number):
            return message
    raise AssertionError(f"no {kind} came")


def test_the_address_answers_and_says_what_may_run(client, live):
    found = client.get(f"/live/{live.token}/")
    assert found.status_code == 200
    policy = found.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "<noscript>" in found.text
    for name in ("live.js", "live.css"):
        assert client.get(f"/live/{live.token}/{name}").status_code == 200


@pytest.mark.parametrize(
    "path",
    [
        "/", "/live/wrong/", "/live/wrong/live.js", "/live/é/", "/live/{token}/server.py",
        "/live/{token}/..%2fserver.py", "/live/{token}/%2e%2e/%2e%2e/etc/passwd",
        "/live/{token}/download/none/case.toml", "/live/{token}/download/x/../../x",
    ],
)  # fmt: skip
def test_nothing_else_is_served(client, live, path):
    found = client.get(path.format(token=live.token))
    assert found.status_code in (403, 404)
    assert live.token not in found.text


def test_a_forged_host_is_refused(client, live):
    assert client.get(f"/live/{live.token}/", headers={"host": "evil.example"}).status_code == 400
    with (
        pytest.raises(WebSocketDenialResponse),
        client.websocket_connect(f"/live/{live.token}/socket", headers={"host": "evil.example"}),
    ):
        pass


def test_a_forged_origin_or_token_is_refused(client, live):
    for token, origin in ((live.token, "http://evil.example"), ("wrong", "http://127.0.0.1:8000")):
        with (
            pytest.raises(WebSocketDisconnect) as refused,
            client.websocket_connect(f"/live/{token}/socket", headers=HOST | {"origin": origin}),
        ):
            pass
        assert refused.value.code == 4403
    with socket(client, live, origin="http://127.0.0.1:8000") as tab:
        tab.send_json({"kind": "hello"})
        assert until(tab, "hello")["fields"]


def test_a_change_is_the_answer_of_the_changed_case(client, live, tmp_path):
    """The saved case, opened by itself, has the page's numbers to the last digit."""
    with socket(client, live) as tab:
        tab.send_json({"kind": "hello"})
        until(tab, "answer")
        tab.send_json({"kind": "set", "name": "limit", "value": "52 %", "number": 1})
        changed = until(tab, "state", 1)["changed"]
        assert changed[0]["now"] == "52 %"
        shown = until(tab, "answer", 1)
        judged = until(tab, "verdict", 1)
        tab.send_json({"kind": "save"})
        path = Path(until(tab, "saved")["path"])
    assert path.parent == tmp_path
    assert tomllib.loads(path.read_text())["humidity"]["limit"] == "52 %"
    study = run_study(load_case(path))
    from dewledger.reports.live.content import answer_content

    again = answer_content(study, study.case.display)
    assert again["table"] == shown["table"]
    assert again["sentences"] == judged["sentences"]
    assert again["more"] == judged["more"]
    # to the last digit, not as they are shown
    (session,) = live.sessions.values()
    for one, other in zip(session.solve(session.case).options, study.options, strict=True):
        assert dict(one.annual) == dict(other.annual)
        assert (one.ledger == other.ledger)[np.isfinite(one.ledger)].all()


def test_what_the_case_cannot_take_is_one_sentence_and_the_answer_stays(client, live):
    with socket(client, live) as tab:
        tab.send_json({"kind": "hello"})
        until(tab, "answer")
        for value in ("lots", "500 %", "", "75 kg", "x" * 400):
            tab.send_json({"kind": "set", "name": "limit", "value": value, "number": 1})
            refused = until(tab, "refused")
            assert refused["name"] == "limit"
            assert refused["sentence"]
            assert "\n" not in refused["sentence"]
        tab.send_json({"kind": "set", "name": "limit", "value": "50 %", "number": 2})
        assert until(tab, "answer", 2)["table"]


@pytest.mark.parametrize("weather", ["../secret.epw", "/etc/passwd", "..\\secret.epw"])
def test_no_weather_outside_the_folder_of_the_case(client, live, weather):
    with socket(client, live) as tab:
        tab.send_json({"kind": "hello"})
        tab.send_json({"kind": "set", "name": "weather", "value": weather, "number": 1})
        sentence = until(tab, "refused")["sentence"]
        assert "root:" not in sentence


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", "null", '{"kind": 5}', '{"kind": "set"}', '{"kind": "nonsense"}',
     '{"kind": "set", "number": 1, "name": "options", "value": "x"}', "[" * 5000,
     '{"kind": "hour", "hour": "soon"}', '{"kind": "undo", "number": "x"}'],
)  # fmt: skip
def test_what_is_no_message_is_survived(client, live, text):
    with socket(client, live) as tab:
        tab.send_text(text)
        tab.receive_json()
        tab.send_json({"kind": "hello"})
        assert until(tab, "hello")["session"]


def test_two_hundred_changes_at_once_end_in_the_last_one(client, live):
    with socket(client, live) as tab:
        tab.send_json({"kind": "hello"})
        until(tab, "answer")
        for number in range(1, 201):
            value = f"{45 + number % 10} %"
            tab.send_json({"kind": "set", "name": "limit", "value": value, "number": number})
        answers = 0
        while True:
            message = tab.receive_json()
            answers += message["kind"] == "answer"
            if message["kind"] == "answer" and message["number"] == 200:
                break
        assert answers < 100  # they were put together, none was lost
        assert live.sessions
        (session,) = live.sessions.values()
        assert len(session.changes) == 200
        assert float(session.case.humidity.limit_value) == 0.45


def test_two_tabs_keep_their_own_state_and_a_reload_finds_it_again(client, live):
    with socket(client, live) as one, socket(client, live) as two:
        one.send_json({"kind": "hello"})
        name = until(one, "hello")["session"]
        two.send_json({"kind": "hello"})
        until(two, "hello")
        one.send_json({"kind": "set", "name": "limit", "value": "45 %", "number": 1})
        assert until(one, "state", 1)["changed"]
        two.send_json({"kind": "undo", "number": 1})
        assert until(two, "state", 1)["changed"] == []
    with socket(client, live) as again:
        again.send_json({"kind": "hello", "session": name})
        assert until(again, "hello")["changed"][0]["now"] == "45 %"


def test_don_t_know_takes_the_default_and_undo_takes_it_back(client, live):
    with socket(client, live) as tab:
        tab.send_json({"kind": "hello"})
        tab.send_json({"kind": "set", "name": "infiltration", "value": None, "number": 1})
        until(tab, "state", 1)
        tab.send_json({"kind": "undo", "name": "infiltration", "number": 2})
        assert until(tab, "state", 2)["changed"] == []


def test_downloads_are_the_state_of_their_session(client, live):
    with socket(client, live) as tab:
        tab.send_json({"kind": "hello"})
        name = until(tab, "hello")["session"]
        tab.send_json({"kind": "set", "name": "limit", "value": "47 %", "number": 1})
        until(tab, "state", 1)
        found = client.get(f"/live/{live.token}/download/{name}/case.toml")
    assert 'limit = "47 %"' in found.text
    assert "attachment" in found.headers["content-disposition"]


def test_a_kept_state_is_compared_with(client, live):
    """The differences shown are those of the two tables: at a lower limit more is purchased."""
    with socket(client, live) as tab:
        tab.send_json({"kind": "hello"})
        until(tab, "answer")
        tab.send_json({"kind": "keep"})
        first = until(tab, "kept")
        assert first["differs"] == []
        assert {cell["text"] for row in first["table"]["rows"] for cell in row["cells"]} == {"0"}
        tab.send_json({"kind": "set", "name": "limit", "value": "50", "number": 1})
        until(tab, "answer", 1)
        second = until(tab, "kept")
        assert second["differs"][0]["label"] == "Humidity limit"
        electric = next(r for r in second["table"]["rows"] if r["head"] == "Electric reheat")
        assert electric["cells"][0]["text"].startswith("+")
        tab.send_json({"kind": "drop"})
        assert until(tab, "kept")["kept"] is False


def test_options_are_taken_in_and_left_out(client, live):
    with socket(client, live) as tab:
        tab.send_json({"kind": "hello"})
        until(tab, "answer")
        tab.send_json(
            {"kind": "set", "name": "considered", "number": 1,
             "value": "none, electric, condenser-trim"}
        )  # fmt: skip
        shown = until(tab, "answer", 1)
        assert [one["key"] for one in shown["options"]] == ["none", "electric", "condenser-trim"]
        tab.send_json({"kind": "set", "name": "considered", "value": "none", "number": 2})
        assert "compared with" in until(tab, "refused")["sentence"]
        tab.send_json({"kind": "set", "name": "system", "value": "none", "number": 3})
        assert until(tab, "answer", 3)["reference"] == "none"


def test_a_unit_is_shown_and_the_case_stays_as_it_is_written(client, live):
    def field(message, name):
        return next(one for one in message["fields"] if one["name"] == name)

    with socket(client, live) as tab:
        tab.send_json({"kind": "hello"})
        until(tab, "hello")
        tab.send_json({"kind": "unit", "name": "cooling", "unit": "degC"})
        state = until(tab, "state")
        assert field(state, "cooling")["text"] == "23.89 degC"
        assert state["changed"] == []
        tab.send_json({"kind": "set", "name": "cooling", "value": "24", "number": 1})
        state = until(tab, "state", 1)
        assert state["changed"][0]["now"] == "24 degC"
        tab.send_json({"kind": "set", "name": "display", "value": "SI", "number": 2})
        assert field(until(tab, "state", 2), "floor_area")["text"] == "185.8 m2"


def test_don_t_know_is_assumed_with_its_source_and_ranged(client, live):
    with socket(client, live) as tab:
        tab.send_json({"kind": "hello"})
        until(tab, "hello")
        tab.send_json({"kind": "set", "name": "outdoor_air", "value": None, "number": 1})
        state = until(tab, "state", 1)
    found = next(one for one in state["fields"] if one["name"] == "outdoor_air")
    assert (found["origin"], found["source"]) == ("assumed", "common practice, no source")
    (session,) = live.sessions.values()
    assert session.case.air.outdoor_flow.text == "450 cfm"  # 20 % of 2250 cfm
    assert session.case.ranges.outdoor_air == ("50 %", "150 %")


def test_moves_of_one_slider_are_one_change(client, live):
    with socket(client, live) as tab:
        tab.send_json({"kind": "hello"})
        until(tab, "hello")
        for number, value in enumerate((54, 53, 52), start=1):
            tab.send_json(
                {"kind": "set", "name": "limit", "value": f"{value} %", "number": number,
                 "moving": True}
            )  # fmt: skip
        tab.send_json({"kind": "set", "name": "infiltration", "value": "0.4 ACH", "number": 4})
        until(tab, "state", 4)
        tab.send_json({"kind": "undo", "number": 5})
        assert [one["now"] for one in until(tab, "state", 5)["changed"]] == ["52 %"]
        tab.send_json({"kind": "undo", "number": 6})
        assert until(tab, "state", 6)["changed"] == []


def test_a_page_that_outlives_its_server_brings_back_what_was_answered(client, live):
    with socket(client, live) as tab:
        tab.send_json({"kind": "hello"})
        digest = until(tab, "hello")["digest"]
        reported = {
            "kind": "hello",
            "session": "of a server before",
            "answers": [["limit", "45 %"]],
        }
        tab.send_json(reported | {"digest": "another case"})
        assert until(tab, "hello")["changed"] == []
        tab.send_json(reported | {"digest": digest})
        assert until(tab, "hello")["changed"][0]["now"] == "45 %"
        tab.send_json(reported | {"digest": digest, "answers": [["limit", "lots"]]})
        assert until(tab, "refused")["sentence"]
        assert until(tab, "hello")["changed"] == []


def test_a_tab_that_was_doubled_has_a_state_of_its_own(client, live):
    with socket(client, live) as one, socket(client, live) as two:
        one.send_json({"kind": "hello"})
        name = until(one, "hello")["session"]
        one.send_json({"kind": "set", "name": "limit", "value": "45 %", "number": 1})
        until(one, "state", 1)
        two.send_json({"kind": "hello", "session": name})
        hello = until(two, "hello")
        assert hello["session"] != name
        assert hello["changed"][0]["now"] == "45 %"
        two.send_json({"kind": "undo", "number": 1})
        assert until(two, "state", 1)["changed"] == []
        one.send_json({"kind": "set", "name": "infiltration", "value": "0.1", "number": 2})
        assert len(until(one, "state", 2)["changed"]) == 2


def test_what_was_changed_and_not_saved_is_written_at_the_end(live, tmp_path):
    with (
        TestClient(app_of(live), base_url="http://127.0.0.1:8000") as client,
        socket(client, live) as tab,
    ):
        tab.send_json({"kind": "hello"})
        until(tab, "hello")
        tab.send_json({"kind": "set", "name": "limit", "value": "45 %", "number": 1})
        until(tab, "state", 1)
    (path,) = tmp_path.iterdir()
    assert load_case(path).humidity.limit == "45 %"


def test_the_command_prints_its_address_alone_and_ends_with_ctrl_c(tmp_path):
    import urllib.request

    process = subprocess.Popen(
        [sys.executable, "-m", "dewledger", "live", "--no-browser"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=tmp_path,
        env={**os.environ},
    )  # fmt: skip
    try:
        address = process.stdout.readline().strip()
        assert address.startswith("http://127.0.0.1:")
        with urllib.request.urlopen(address, timeout=30) as answer:
            assert answer.status == 200
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=30)
    finally:
        process.kill()
    assert out == ""
    assert "Traceback" not in err
    assert list(tmp_path.iterdir()) == []


def test_it_ends_at_once_though_it_works_and_saves_what_was_changed(tmp_path):
    from websockets.sync.client import connect

    process = subprocess.Popen(
        [sys.executable, "-m", "dewledger", "live", "--no-browser"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=tmp_path,
    )  # fmt: skip
    try:
        address = process.stdout.readline().strip().replace("http:", "ws:") + "socket"
        with connect(address, max_size=None) as tab:
            tab.send('{"kind": "hello"}')
            while json.loads(tab.recv(120))["kind"] != "answer":
                pass
            tab.send('{"kind": "set", "name": "limit", "value": "45", "number": 1}')
            while json.loads(tab.recv(120))["kind"] != "state":
                pass
            tab.send('{"kind": "band"}')  # a hundred years of every option
            process.send_signal(signal.SIGTERM)
            _, err = process.communicate(timeout=60)
    finally:
        process.kill()
    assert process.returncode == 0
    assert "Traceback" not in err
    (path,) = tmp_path.iterdir()
    assert path.name in err
    assert load_case(path).humidity.limit == "45 %"


def test_more_tabs_than_are_kept_lose_no_change(live, tmp_path, monkeypatch):
    monkeypatch.setattr("dewledger.reports.live.server._MOST_SESSIONS", 2)
    first, session = live.session(None)
    session.set("limit", "45 %")
    live.leave(first)
    live.session(None)
    live.session(None)  # the first makes room, and is written
    (path,) = tmp_path.iterdir()
    assert load_case(path).humidity.limit == "45 %"
    with pytest.raises(InputError, match="tabs are open"):
        live.session(None)


def test_messages_are_json(client, live):
    with socket(client, live) as tab:
        tab.send_json({"kind": "hello"})
        assert json.loads(tab.receive_text())["kind"] == "hello"
