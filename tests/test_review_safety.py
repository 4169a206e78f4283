"""What other pages and hostile requests get from the review page: nothing."""

from __future__ import annotations

import hashlib
import re
import shutil
import socket
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import httpx
import pytest
from starlette.routing import Route

from companion.errors import CompanionError
from companion.job.events import PhotoAdded
from companion.log.check import check_log
from companion.log.reader import read_log
from companion.log.writer import LogWriter
from companion.review.reviewer import open_review
from companion.web import server
from companion.web.adding import FILES
from companion.web.guard import BODY_BYTES, own_hosts
from companion.web.pages import application, sentence_page
from companion.web.review import review_application
from companion.web.server import serving
from companion.web.shop import Shop, key_of
from tests.logs import MONDAY
from tests.review_pages import HOSTILE, environment_of, picture, reviewing, tiller, typed


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    data = tmp_path_factory.mktemp("shop")
    tiller(data / "sessions" / "tiller")
    typed(data / "sessions" / "typed", "gap 30 thou", "note " + HOSTILE)
    (data / "secret.flac").write_bytes(b"secret")
    return data


@pytest.fixture(scope="module")
def address(shop: Path) -> Iterator[str]:
    with pytest.MonkeyPatch.context() as patch:
        for name, value in environment_of(shop).items():
            patch.setenv(name, value)
        pages = Shop()
        app = review_application(pages, open_review, lambda: MONDAY)
        with serving(app, what="review page", files=FILES) as at:
            yield at
        pages.close()


@pytest.fixture
def client(address: str) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=address, timeout=20) as opened:
        yield opened


@pytest.fixture
def tiller_page(shop: Path) -> str:
    return f"/session/{key_of(shop / 'sessions' / 'tiller')}"


def csrf(client: httpx.Client, page: str) -> str:
    found = re.search(r'name="csrf" value="([^"]+)"', client.get(page).text)
    assert found
    return found[1]


def records(shop: Path) -> int:
    return len(read_log(shop / "sessions" / "tiller").records)


def by_hand(address: str, request: str) -> bytes:
    """What is answered to a request as no client would send it."""
    host, port = address[7:-1].split(":")
    with socket.create_connection((host, int(port)), timeout=20) as raw:
        raw.sendall(request.encode())
        return b"".join(iter(lambda: raw.recv(65_536), b""))


# --- who may look -------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "host",
    ["example.org", "example.org:{port}", "127.0.0.1", "127.0.0.1:1",
     "127.0.0.1.example.org:{port}", "localhost", "[::1]:{port}", "", "2130706433:{port}"],
)  # fmt: skip
def test_no_other_name_may_be_pointed_at_it(client: httpx.Client, host: str) -> None:
    port = client.base_url.port
    answer = client.get("/", headers={"Host": host.format(port=port)})
    assert answer.status_code == 403
    assert "<html" not in answer.text


def test_two_hosts_are_none(address: str) -> None:
    own = address[7:-1]
    answer = by_hand(
        address, f"GET / HTTP/1.1\r\nConnection: close\r\nHost: {own}\r\nHost: example.org\r\n\r\n"
    )
    assert answer.split()[1] in (b"400", b"403")


def test_localhost_is_this_computer(client: httpx.Client) -> None:
    answer = client.get("/", headers={"Host": f"localhost:{client.base_url.port}"})
    assert answer.status_code == 200


def test_it_listens_on_the_one_address_only(address: str) -> None:
    port = int(address.rsplit(":", 1)[1].strip("/"))
    with pytest.raises(ConnectionRefusedError):
        # As near as an address can be that is not the one.
        socket.create_connection(("127.0.0.2", port), timeout=5)


def test_nothing_of_it_can_be_built_into_a_page_elsewhere(
    client: httpx.Client, tiller_page: str
) -> None:
    for mode in ("no-cors", "cors"):
        answer = client.get(
            tiller_page, headers={"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": mode}
        )
        assert answer.status_code == 403


def test_every_answer_keeps_the_browser_strict(client: httpx.Client, tiller_page: str) -> None:
    for path in ("/", tiller_page, "/nothing", "/static/review.js", f"{tiller_page}/clip/x.flac"):
        headers = client.get(path).headers
        policy = headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Referrer-Policy"] == "same-origin"
        assert headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert client.get(tiller_page).headers["Cache-Control"] == "no-store"


def test_no_page_holds_a_script_or_style_of_its_own(
    client: httpx.Client, shop: Path, tiller_page: str
) -> None:
    typed_page = f"/session/{key_of(shop / 'sessions' / 'typed')}"
    places = (
        "/",
        "/machines",
        "/said?q=script",
        tiller_page,
        typed_page,
        "/machine/quillmoor-tiller",
    )
    for path in places:
        text = client.get(path).text
        assert client.get(path).status_code == 200
        assert HOSTILE not in text
        assert re.findall(r"<script(?! src=\"/static/)", text) == []
        assert "<style" not in text
        assert re.findall(r"\sstyle=|\son[a-z]+=[\"']", re.sub(r"&lt;.*?&gt;", "", text)) == []
        assert re.findall(r"(?:src|href|action)=\"(?:https?:)?//", text) == []


# --- who may change something ---------------------------------------------------------------------
@pytest.mark.parametrize(
    "headers",
    [{}, {"Origin": "https://example.org"}, {"Origin": "null"}, {"Sec-Fetch-Site": "cross-site"},
     {"Origin": "http://127.0.0.1:1"}, {"Sec-Fetch-Site": "same-site"},
     {"Origin": "OWN", "Sec-Fetch-Site": "cross-site"}],
)  # fmt: skip
def test_only_a_form_of_its_own_changes_something(
    client: httpx.Client, address: str, shop: Path, tiller_page: str, headers: dict[str, str]
) -> None:
    before = records(shop)
    headers = {name: address[:-1] if value == "OWN" else value for name, value in headers.items()}
    form = {"csrf": csrf(client, tiller_page), "do": "right", "record": "5", "by": "Mallory"}
    answer = client.post(f"{tiller_page}/act", data=form, headers=headers)
    assert answer.status_code == 403
    assert records(shop) == before


@pytest.mark.parametrize("secret", [None, "", "wrong", "é"])
def test_a_form_without_the_secret_changes_nothing(
    client: httpx.Client, address: str, shop: Path, tiller_page: str, secret: str | None
) -> None:
    before = records(shop)
    form = {"do": "right", "record": "5", "by": "Mallory"} | (
        {} if secret is None else {"csrf": secret}
    )
    answer = client.post(f"{tiller_page}/act", data=form, headers={"Origin": address[:-1]})
    assert answer.status_code == 403
    assert records(shop) == before


def test_looking_changes_nothing(client: httpx.Client, shop: Path, tiller_page: str) -> None:
    before = records(shop)
    secret = csrf(client, tiller_page)
    for method in ("GET", "HEAD", "PUT", "DELETE", "PATCH", "OPTIONS"):
        answer = client.request(
            method, f"{tiller_page}/act?csrf={secret}&do=right&record=5&by=Mallory"
        )
        assert answer.status_code in (403, 404, 405)
    assert records(shop) == before


@pytest.mark.parametrize(
    "form",
    [{}, {"do": "launch"}, {"do": "right"}, {"do": "right", "record": "-1"},
     {"do": "right", "record": "99999999999999999999"}, {"do": "right", "record": "٥"},
     {"do": "correct", "record": "5", "text": ""}, {"do": "note", "record": "5", "text": "\x00"}],
)  # fmt: skip
def test_a_form_that_means_nothing_is_told_so(
    client: httpx.Client, address: str, shop: Path, tiller_page: str, form: dict[str, str]
) -> None:
    before = records(shop)
    own = {"csrf": csrf(client, tiller_page), "by": "Rosa"}
    answer = client.post(f"{tiller_page}/act", data=own | form, headers={"Origin": address[:-1]})
    assert answer.status_code in (400, 422)
    assert "Traceback" not in answer.text
    assert records(shop) == before


def test_nothing_is_affirmed_that_the_page_did_not_show(
    client: httpx.Client, address: str, shop: Path
) -> None:
    folder = typed(shop / "sessions" / "affirming", "removed drive belt")
    page = f"/session/{key_of(folder)}"
    origin = {"Origin": address[:-1]}
    form = {"csrf": csrf(client, page), "do": "set-aside", "record": "2", "by": "Rosa"}
    asked = client.post(f"{page}/act", data=form, headers=origin)
    assert "Clear tag belt off?" in asked.text
    before = len(read_log(folder).records)
    for read in ({}, {"read": ""}, {"read": "Clear tag belt off?"}):
        answer = client.post(f"{page}/act", data=form | {"affirmed": "yes"} | read, headers=origin)
        assert "This has to be affirmed first" in answer.text
    assert len(read_log(folder).records) == before
    (shown,) = re.findall(r'name="read" value="([^"]+)"', asked.text)
    answer = client.post(
        f"{page}/act", data=form | {"affirmed": "yes", "read": shown}, headers=origin
    )
    assert answer.status_code == 303


# --- no path leaves the folder --------------------------------------------------------------------
@pytest.mark.parametrize(
    "name",
    ["../log.jsonl", "..%2flog.jsonl", "..%2Flog.jsonl", "%2e%2e%2flog.jsonl", "..%5clog.jsonl",
     "....//log.jsonl", "..%252flog.jsonl", "%c0%ae%c0%ae%2flog.jsonl", "..%00.flac",
     "0005.flac%00", "%2fetc%2fpasswd", "..%2f..%2f..%2fsecret.flac", "0005.flac%2f..%2flog.jsonl",
     ".flac", "link.flac", "linked%2f0005.flac", "log.jsonl", "%ff%fe.flac", "CON.flac",
     "a" * 5000],
)  # fmt: skip
@pytest.mark.parametrize("what", ["clip", "wave"])
def test_no_path_leaves_the_folder_of_the_clips(
    address: str, shop: Path, tiller_page: str, name: str, what: str
) -> None:
    link = shop / "sessions" / "tiller" / "audio" / "link.flac"
    if not link.is_symlink():
        link.symlink_to(shop / "secret.flac")
    path, head = f"{tiller_page}/{what}/{name}", f"Connection: close\r\nHost: {address[7:-1]}"
    answer = by_hand(address, f"GET {path} HTTP/1.1\r\n{head}\r\n\r\n")
    status = int(answer.split()[1])
    assert status in (400, 404)
    assert b"secret" not in answer
    assert b'"kind"' not in answer


@pytest.mark.parametrize("key", ["%2e%2e%2f", "..%2f..", "tiller", "a%00b", "%ff", "x" * 3000])
def test_no_other_folder_is_a_session(client: httpx.Client, key: str) -> None:
    assert client.get(f"/session/{key}").status_code in (404, 400)


@pytest.mark.parametrize(
    "name",
    ["guard.py", "..%2fguard.py", "base.html", "%2e%2e%2fcli.py", "__init__.py", "nothing.css"],
)
def test_only_style_sheets_scripts_and_drawings_are_static(client: httpx.Client, name: str) -> None:
    assert client.get(f"/static/{name}").status_code == 404


# --- photos ---------------------------------------------------------------------------------------
def test_photos_come_only_from_a_form_of_its_own(
    client: httpx.Client, address: str, shop: Path, tiller_page: str
) -> None:
    before = records(shop)
    secret = csrf(client, tiller_page)
    files = {"photos": ("seal.jpg", picture(), "image/jpeg")}
    own = {"Origin": address[:-1]}
    for query, headers in (
        ("", own),
        ("?csrf=wrong", own),
        (f"?csrf={secret}", {}),
        (f"?csrf={secret}", {"Origin": "https://example.org"}),
    ):
        # The secret among the fields is no help: nothing of the body is read before it is seen.
        answer = client.post(
            f"{tiller_page}/photos{query}",
            data={"csrf": secret, "by": "Mallory"},
            files=files,
            headers=headers,
        )
        assert answer.status_code == 403
    assert client.get(f"{tiller_page}/photos?csrf={secret}").status_code == 405
    assert records(shop) == before
    assert not (shop / "sessions" / "tiller" / "photos").exists()


@pytest.mark.parametrize(
    ("name", "data", "told"),
    [
        ("<b>.svg", b"<svg xmlns='http://www.w3.org/2000/svg'/>", "&lt;b&gt;.svg is no JPEG"),
        ("../../../x.jpg", b"", "x.jpg is no JPEG"),
        ("..\\x.jpg", b"GIF89a", "x.jpg is no JPEG"),
        ("", b"\x00" * 99, "No photo was chosen"),
        ("x" * 500 + ".png", b"\x89PNG\r\n\x1a\n", "x.png is no JPEG"),
        ("half.jpg", picture()[:700], "half.jpg is damaged or cut short"),
    ],
    ids=["drawing", "above", "backslash", "nameless", "long", "half"],
)
def test_what_is_no_photo_is_told_in_one_sentence(
    client: httpx.Client, address: str, shop: Path, tiller_page: str,
    name: str, data: bytes, told: str,
) -> None:  # fmt: skip
    before = records(shop)
    answer = client.post(
        f"{tiller_page}/photos?csrf={csrf(client, tiller_page)}",
        data={"by": "Rosa"},
        files={"photos": (name, data)},
        headers={"Origin": address[:-1]},
        follow_redirects=True,
    )
    assert told in answer.text
    assert "../" not in answer.text
    assert records(shop) == before


def test_photos_at_once_from_several_pages_are_all_kept(
    client: httpx.Client, address: str, shop: Path
) -> None:
    folder = Path(shutil.copytree(shop / "sessions" / "typed", shop / "sessions" / "at-once"))
    page = f"/session/{key_of(folder)}"
    secret = csrf(client, page)

    def add(number: int) -> int:
        answer = httpx.post(
            f"{address[:-1]}{page}/photos?csrf={secret}",
            data={"by": f"Rosa {number}"},
            files=[("photos", (f"{each}.jpg", picture(), "image/jpeg")) for each in range(3)],
            headers={"Origin": address[:-1]},
            timeout=60,
        )
        return answer.status_code

    with ThreadPoolExecutor(4) as pages:
        assert list(pages.map(add, range(4))) == [303] * 4
    assert check_log(folder).ok
    added = [r.event for r in read_log(folder).records if isinstance(r.event, PhotoAdded)]
    assert len({photo.file for photo in added}) == 12
    shutil.rmtree(folder)


def test_more_photos_than_may_be_sent_are_told_so(
    client: httpx.Client, address: str, shop: Path, tiller_page: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    before = records(shop)
    app = review_application(pages := Shop(), open_review, lambda: MONDAY)
    with (
        serving(app, what="review page", files=replace(FILES, most_bytes=100_000)) as at,
        httpx.Client(base_url=at, timeout=20) as other,
    ):
        where = f"{tiller_page}/photos?csrf={csrf(other, tiller_page)}"
        for size in (110_000, 900_000):
            files = {"photos": ("large.jpg", b"x" * size)}
            answer = other.post(
                where, data={"by": "Rosa"}, files=files, headers={"Origin": at[:-1]}
            )
            assert answer.status_code == 413
            assert "add fewer at a time" in answer.text
    pages.close()
    assert records(shop) == before


def test_a_record_that_names_another_file_shows_none(client: httpx.Client, shop: Path) -> None:
    folder = Path(shutil.copytree(shop / "sessions" / "typed", shop / "sessions" / "named"))
    (folder / "photos").mkdir()
    (folder / "photos" / "0001.jpg").symlink_to(shop / "secret.flac")
    (folder / "photos" / "0002.html").write_text("secret")
    (folder / "photos" / "0003.jpg").write_text("secret")
    digest = hashlib.sha256(b"secret").hexdigest()
    names = ("../../secret.flac", "photos/../../../secret.flac", "/etc/passwd", "log.jsonl",
             "photos/0001.jpg", "photos/0002.html", "photos/0004.jpg", "photos")  # fmt: skip
    with LogWriter.beside(folder) as writer, writer.turn():
        hostile = writer.append([PhotoAdded(file=name, sha256=digest) for name in names], MONDAY)
        text = writer.append([PhotoAdded(file="photos/0003.jpg", sha256=digest)], MONDAY)[0].seq
    page = f"/session/{key_of(folder)}"
    assert client.get(page).status_code == 200
    for record in hostile:
        for what in ("", "?small"):
            answer = client.get(f"{page}/photo/{record.seq}{what}")
            assert answer.status_code == 404
            assert "secret\n" not in answer.text
    # What only pretends to be a picture is never taken for a page.
    answer = client.get(f"{page}/photo/{text}")
    assert answer.headers["Content-Type"] == "image/jpeg"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert client.get(f"{page}/photo/{text}?small").status_code == 404
    for other in ("1", "999", "0", "-1", "x", "1%2f..", "99999999999999999999"):
        assert client.get(f"{page}/photo/{other}").status_code == 404
    shutil.rmtree(folder)


# --- what a browser does with a clip --------------------------------------------------------------
def test_a_part_of_a_clip_can_be_asked_for(
    client: httpx.Client, shop: Path, tiller_page: str
) -> None:
    whole = (shop / "sessions" / "tiller" / "audio" / "0005.flac").read_bytes()
    answer = client.get(f"{tiller_page}/clip/0005.flac", headers={"Range": "bytes=4-9"})
    assert answer.status_code == 206
    assert answer.content == whole[4:10]
    assert answer.headers["Content-Type"] == "audio/flac"
    assert client.get(f"{tiller_page}/clip/0005.flac").content == whole
    for bad in ("bytes=9-4", "bytes=99999999-", "furlongs=1-2", "bytes=" + "0-1," * 500):
        assert client.get(f"{tiller_page}/clip/0005.flac", headers={"Range": bad}).status_code in (
            200,
            206,
            400,
            416,
        )


# --- limits ---------------------------------------------------------------------------------------
def test_more_than_may_be_sent_is_refused(
    client: httpx.Client, address: str, tiller_page: str
) -> None:
    big = {"csrf": csrf(client, tiller_page), "do": "note", "text": "x" * BODY_BYTES}
    answer = client.post(f"{tiller_page}/act", data=big, headers={"Origin": address[:-1]})
    assert answer.status_code == 413

    def pieces() -> Iterator[bytes]:
        for _ in range(BODY_BYTES // 1024 + 2):
            yield b"x" * 1024

    answer = client.post(f"{tiller_page}/act", content=pieces(), headers={"Origin": address[:-1]})
    assert answer.status_code == 413


def test_half_open_and_torn_requests_do_not_keep_others_waiting(
    client: httpx.Client, address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(server, "REQUEST_SECONDS", 0.3)
    host, port = address[7:-1].split(":")
    begun = [b"", b"GET", b"GET / HTTP/1.1\r\nHost: ", b"POST / HTTP/1.1\r\nHost: " +
             f"{host}:{port}".encode() + b"\r\nContent-Length: 9\r\n\r\nabc"]  # fmt: skip
    opened = [socket.create_connection((host, int(port)), timeout=20) for _ in range(60)]
    try:
        for number, each in enumerate(opened):
            each.sendall(begun[number % len(begun)])
        assert client.get("/").status_code == 200
        # Each is closed from the other side in the end.
        assert all(_ends(each) for each in opened)
    finally:
        for each in opened:
            each.close()


def _ends(connection: socket.socket) -> bool:
    try:
        return not b"".join(iter(lambda: connection.recv(4096), b"")) or True
    except ConnectionError:
        return True


def test_a_browser_that_goes_away_in_the_middle_of_a_form_leaves_all_whole(
    client: httpx.Client, address: str, shop: Path, tiller_page: str
) -> None:
    before = records(shop)
    host, port = address[7:-1].split(":")
    body = f"csrf={csrf(client, tiller_page)}&do=right&record=5&by=Rosa"
    head = (
        f"POST {tiller_page}/act HTTP/1.1\r\nHost: {host}:{port}\r\nOrigin: {address[:-1]}\r\n"
        f"Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {len(body)}\r\n\r\n"
    )
    with socket.create_connection((host, int(port))) as raw:
        raw.sendall((head + body[:-4]).encode())
    assert client.get(tiller_page).status_code == 200
    assert records(shop) == before


# --- what goes wrong ------------------------------------------------------------------------------
def test_a_full_disk_is_told_and_what_was_typed_is_kept(
    client: httpx.Client,
    address: str,
    tiller_page: str,
    shop: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    before = (shop / "sessions" / "tiller" / "log.jsonl").read_bytes()
    number = next(
        record.seq
        for record in read_log(shop / "sessions" / "tiller").records
        if getattr(record.event, "text", "") == "drive belt worn"
    )
    form = {"csrf": csrf(client, tiller_page), "do": "correct", "record": str(number),
            "text": "drive belt cracked", "by": "Rosa"}  # fmt: skip
    with monkeypatch.context() as patch:
        patch.setattr("companion.log.writer.write_all", full)
        answer = client.post(f"{tiller_page}/act", data=form, headers={"Origin": address[:-1]})
    assert answer.status_code == 500
    assert "No space left on device" in answer.text
    assert 'value="drive belt cracked"' in answer.text
    assert (shop / "sessions" / "tiller" / "log.jsonl").read_bytes() == before
    answer = client.post(f"{tiller_page}/act", data=form, headers={"Origin": address[:-1]})
    assert answer.status_code == 303


def test_a_log_that_breaks_meanwhile_is_told_and_the_rest_works(
    client: httpx.Client, shop: Path
) -> None:
    folder = Path(shutil.copytree(shop / "sessions" / "typed", shop / "sessions" / "breaks"))
    page = f"/session/{key_of(folder)}"
    assert client.get(page).status_code == 200
    log = folder / "log.jsonl"
    log.write_bytes(log.read_bytes().replace(b'"30"', b'"31"'))
    answer = client.get(page)
    assert answer.status_code == 500
    assert "is damaged" in answer.text
    assert "Traceback" not in answer.text
    shutil.rmtree(folder)
    assert client.get(page).status_code == 404
    assert client.get("/").status_code == 200


def test_a_fault_of_the_program_is_one_sentence(
    client: httpx.Client, tiller_page: str, monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    def fails(_: object) -> None:
        raise KeyError("nobody\nknows")

    monkeypatch.setattr("companion.web.review.summary_of", fails)
    answer = client.get(tiller_page)
    assert answer.status_code == 500
    assert "nobody" not in answer.text
    assert "Traceback" not in answer.text
    told = capfd.readouterr().err.splitlines()
    assert len(told) == 1
    assert "could not be made (KeyError" in told[0]


def test_a_port_that_is_taken_or_none_is_told(address: str) -> None:
    taken = int(address.rsplit(":", 1)[1].strip("/"))
    for bad in (taken, 70_000, -1):
        with (
            pytest.raises(CompanionError, match=f"cannot listen on port {bad}"),
            serving(lambda scope, receive, send: None, what="page", port=bad),  # type: ignore[arg-type,return-value]
        ):
            pass


def test_beyond_this_machine_a_token_is_needed() -> None:
    with (
        pytest.raises(CompanionError, match="needs a token"),
        serving(lambda scope, receive, send: None, what="page", host="0.0.0.0"),  # type: ignore[arg-type,return-value]
    ):
        pass


def test_with_a_token_it_must_be_known() -> None:
    app = application([Route("/", lambda request: sentence_page(request, 200, "Seen."))])
    with serving(app, what="page", token="a-token") as at, httpx.Client(base_url=at) as client:
        for path in ("/", "/?token=", "/?token=wrong", "/static/notebook.css", "/?token=a-tokén"):
            answer = client.get(path)
            assert answer.status_code == 403
            assert "whole address" in answer.text
        answer = client.get("/?token=a-token&x=1")
        assert answer.headers["Location"] == "/?x=1"
        assert "HttpOnly" in answer.headers["Set-Cookie"]
        assert "Seen." in client.get("/").text
        answer = client.get("//example.org/?token=a-token")
        assert not answer.headers.get("Location", "/").startswith("//")


def test_any_address_in_figures_will_do_where_all_are_listened_on() -> None:
    hosts = own_hosts("0.0.0.0", 80)
    assert hosts.include("192.168.1.7")
    assert hosts.include("[fe80::1]:80")
    assert not hosts.include("example.org")
    assert not hosts.include("192.168.1.7:81")


# --- the command ----------------------------------------------------------------------------------
def test_the_command_shows_one_session_and_ends_with_ctrl_c(shop: Path) -> None:
    with reviewing(shop, "typed") as at:
        assert f"/session/{key_of(shop / 'sessions' / 'typed')}" in at
        # A page that is left open does not keep it from ending.
        client = httpx.Client()
        assert "Quillmoor" in client.get(at).text
    client.close()
