"""``companion review``: one page, on the loopback address, for this computer only."""

from __future__ import annotations

import http.client
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.job import events as ev
from companion.log.writer import LogWriter
from companion.report.page import render_report
from companion.report.serve import report_server, serve_report
from tests.logs import MONDAY, invented_job


@pytest.fixture
def job(tmp_path: Path) -> Path:
    invented_job(tmp_path / "job", clips=False)
    return tmp_path / "job"


@pytest.fixture
def port(job: Path) -> Iterator[int]:
    with report_server(job, 0) as server:
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
        thread.start()
        yield server.server_port
        server.shutdown()
        thread.join()


def get(port: int, path: str = "/", host: str | None = None) -> tuple[int, str]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    connection.request("GET", path, headers={"Host": host or f"127.0.0.1:{port}"})
    response = connection.getresponse()
    answer = response.status, response.read().decode()
    connection.close()
    return answer


def test_the_page_is_served_and_made_anew_at_every_look(job: Path, port: int) -> None:
    assert get(port) == (200, render_report(job))
    with LogWriter.open(job) as writer:
        writer.append([ev.NoteKept(text="said since then", draft=False)], MONDAY)
    assert "said since then" in get(port)[1]


def test_there_is_nothing_else_to_get(port: int) -> None:
    for path in ("/log.jsonl", "/../log.jsonl", "/audio/0002.flac"):
        assert get(port, path)[0] == 404


def test_a_page_elsewhere_cannot_read_it_under_another_name(port: int) -> None:
    assert get(port, host="example.org")[0] == 403
    assert get(port, host=f"localhost:{port}")[0] == 200


def test_a_log_that_breaks_meanwhile_is_answered_with_the_sentence(job: Path, port: int) -> None:
    (job / "log.jsonl").write_bytes(b"dear diary\n")
    status, text = get(port)
    assert status == 500
    assert "is not a log" in text


def test_only_the_loopback_address_is_listened_on(job: Path) -> None:
    with report_server(job, 0) as server:
        assert server.server_address[0] == "127.0.0.1"


def test_a_port_that_is_taken_or_none_is_told(job: Path, port: int) -> None:
    for bad in (port, 70_000):
        with pytest.raises(CompanionError, match=f"cannot listen on port {bad}"):
            serve_report(job, port=bad, browser=False)
