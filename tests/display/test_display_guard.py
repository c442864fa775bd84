"""What holds for every request and answer: hosts, origins, headers, methods, paths, failures."""

from __future__ import annotations

import asyncio
import contextlib
import ssl
from pathlib import Path

import pytest
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from display.web.guard import HEADERS, SECURE_HEADERS
from display.web.server import Tls
from tests.display.site import Site, bench, settled, site
from tests.link.certificates import certificate, write_pem

pytestmark = pytest.mark.slow


async def _fails(_: Request) -> Response:
    raise RuntimeError("the secret of the house")


async def _serial(request: Request) -> Response:
    return JSONResponse({"serial": request.path_params["serial"]})


READS = [Route("/api/fails", _fails), Route("/api/history/{serial:path}", _serial)]
EVERY = [
    ("GET", "/", 307), ("GET", "/wall", 200), ("GET", "/enter", 200), ("GET", "/bench", 303),
    ("GET", "/static/wall.html", 200), ("GET", "/static/none.css", 404), ("GET", "/static/", 404),
    ("GET", "/none", 404), ("GET", "/api/me", 200), ("GET", "/api/fails", 401), ("GET", bench(), 401),
    ("POST", "/bench/act", 401), ("POST", "/bench/photo", 401), ("POST", "/leave", 204),
    ("POST", "/wall", 405), ("PUT", "/enter", 405), ("DELETE", "/bench/photo", 405), ("TRACE", "/wall", 405),
    ("OPTIONS", "/bench/act", 405), ("GET", "/bench/act", 405), ("GET", "/leave", 405),
    ("GET", "/wall/", 404),
    ("HEAD", "/wall/stream", 200),
]  # fmt: skip


async def test_every_answer_has_its_headers(tmp_path: Path) -> None:
    async with site(tmp_path, reads=READS) as made, made.browser() as browser:
        for method, path, status in EVERY:
            answer = await browser.request(method, path)
            assert (method, path, answer.status_code) == (method, path, status)
            for name, value in HEADERS.items():
                assert answer.headers[name] == value, path
            assert answer.headers["cache-control"] in ("no-store", "no-cache")
            assert "server" not in answer.headers
            assert not [name for name in answer.headers if name.startswith("access-control-")]
            assert "strict-transport-security" not in answer.headers


async def test_what_fails_tells_nothing_out_and_one_line_to_the_log(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    async with site(tmp_path, reads=READS) as made, made.entered() as browser:
        answer = await browser.get("/api/fails")
        assert answer.status_code == 500
        assert "secret" not in answer.text
        assert "Traceback" not in answer.text
        assert answer.headers["content-security-policy"]
    said = [line for line in "".join(capfd.readouterr()).splitlines() if "failed" in line]
    assert len(said) == 1
    assert "the secret of the house" in said[0]
    assert "test_display_guard.py" in said[0]


CROSS = [
    ({"Origin": "https://other.example"}, 403), ({"Origin": "null"}, 403), ({"Origin": ""}, 403),
    ({"Sec-Fetch-Site": "cross-site"}, 403), ({"Sec-Fetch-Site": "same-site"}, 403), ({}, 403),
    ({"Sec-Fetch-Site": "same-origin"}, 204), ({"X-Ringtrue": "1"}, 204),
    ({"X-Ringtrue": "1", "Origin": "https://other.example"}, 403),
]  # fmt: skip


@pytest.mark.parametrize(("headers", "status"), CROSS)
async def test_nothing_is_done_for_a_page_of_another_site(
    headers: dict[str, str], status: int, tmp_path: Path
) -> None:
    async with site(tmp_path) as made, made.entered() as browser:
        browser.headers.pop("X-Ringtrue")
        for path in ("/leave", "/enter", "/bench/act", "/bench/photo"):
            if status == 403 or path == "/leave":
                answer = await browser.post(path, headers=headers)
                assert answer.status_code == status, path


async def test_a_page_of_its_own_may(tmp_path: Path) -> None:
    async with site(tmp_path) as made, made.entered() as browser:
        browser.headers.pop("X-Ringtrue")
        wrong = made.root.replace("http:", "https:")
        assert (await browser.post("/leave", headers={"Origin": wrong})).status_code == 403
        assert (await browser.post("/leave", headers={"Origin": made.root})).status_code == 204


@pytest.mark.parametrize("host", ["other.example", "127.0.0.1.other.example", "[", "", "127.0.0.2", "[::1"])
async def test_by_another_name_it_is_not_known(host: str, tmp_path: Path) -> None:
    """A page of another site, whose name is made to mean this machine, reads nothing (DNS rebinding)."""
    async with site(tmp_path) as made, made.browser() as browser:
        answer = await browser.get("/wall/stream", headers={"Host": host})
        assert answer.status_code in (400, 403)
        for known in ("localhost:8080", "127.0.0.1", "[::1]:80", "LOCALHOST"):
            assert (await browser.get("/wall", headers={"Host": known})).status_code == 200


PATHS = [
    "/static/../web/doors.py", "/static/%2e%2e/web/doors.py", "/static/..%2fweb%2fdoors.py",
    "/static//etc/passwd", "/static/%00", "/static/....//web/doors.py", "/static/..%5cweb%5cdoors.py",
]  # fmt: skip


@pytest.mark.parametrize("path", PATHS)
async def test_no_path_leads_out_of_the_pages(path: str, tmp_path: Path) -> None:
    async with site(tmp_path) as made:
        status, _, body = await _raw(
            made, f"GET {path} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"
        )
        assert status in (400, 404)
        assert b"import" not in body
        assert b"root:" not in body


@pytest.mark.parametrize(
    "wanted", ["https://other.example", "//other.example", "/\\other.example", "bench", ""]
)
async def test_whoever_enters_goes_on_to_a_page_of_ours(wanted: str, tmp_path: Path) -> None:
    async with site(tmp_path) as made, made.browser() as browser:
        said = {"name": "R. Example", "password": "the bay's credential", "next": wanted}
        assert (await browser.post("/enter", data=said)).json() == {"next": "/bench"}
        said["next"] = "/history"
        assert (await browser.post("/enter", data=said)).json() == {"next": "/history"}


@pytest.mark.parametrize("body", [b"name=" + b"x" * 5000, b"&".join([b"a=1"] * 50), b"\xff" * 5000])
async def test_a_form_has_a_size(body: bytes, tmp_path: Path) -> None:
    async with site(tmp_path) as made, made.browser() as browser:
        answer = await browser.post("/enter", content=body)
        assert answer.status_code == 413
        assert "\n" not in answer.json()["error"]


async def test_what_is_no_request_is_answered_so(tmp_path: Path) -> None:
    async with site(tmp_path) as made:
        for request in ("nonsense\r\n\r\n", "GET / HTTP/1.1\r\n" + "X: " + "y" * 20_000 + "\r\n\r\n"):
            status, _, body = await _raw(made, request)
            assert status == 400
            assert b"Traceback" not in body


async def test_a_body_that_never_comes_is_not_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("display.web.body.WITHIN_S", 0.1)
    async with site(tmp_path) as made:
        request = (
            "POST /enter HTTP/1.1\r\nHost: localhost\r\nX-Ringtrue: 1\r\nContent-Length: 100\r\n\r\nname="
        )
        assert (await _raw(made, request))[0] == 413


async def test_connections_beyond_a_number_are_told_so_and_those_that_ask_nothing_are_closed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("display.web.server.CONNECTIONS_MAX", 5)
    monkeypatch.setattr("display.web.server._FAR_BEYOND", 8)
    async with site(tmp_path) as made:
        held = [await _connect(made) for _ in range(6)]
        get = "GET /wall HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"
        for _ in range(3):
            assert (await _raw(made, get))[0] == 503
        held += [await _connect(made) for _ in range(2)]
        reader, writer = await _connect(made)
        assert await reader.read() == b""
        for _, one in (*held, (reader, writer)):
            one.close()
            await one.wait_closed()
        async with asyncio.timeout(5):
            while (await _raw(made, get))[0] != 200:  # noqa: ASYNC110 another's connection tells nobody
                await asyncio.sleep(0.01)
    assert "".join(capfd.readouterr()).count("Exceeded concurrency limit") == 1


async def test_a_connection_that_asks_for_nothing_is_given_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("display.web.server.REQUEST_MAX_S", -29.9)  # beside the 30 s that are kept alive
    async with site(tmp_path) as made:
        reader, writer = await _connect(made)
        writer.write(b"GET /wall HT")
        async with asyncio.timeout(5):
            with contextlib.suppress(ConnectionResetError):
                assert await reader.read() == b""
        writer.close()


async def test_a_fault_of_ours_is_told_to_whoever_runs_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A feed that has died must not look like a bay where nothing happens."""

    def fail(*_: object) -> None:
        raise RuntimeError("a fault")

    monkeypatch.setattr("display.web.feed.Feed.hear", fail)
    async with site(tmp_path) as made:
        await settled(lambda: made.world.feed.away is None)
        made.line.publish("ringtrue/1/greywacke/bay-2/live", b"{}")
        await settled(lambda: bool(made.failures))
    assert str(made.failures[0]) == "a fault"


# -- TLS


@pytest.fixture
def tls(tmp_path: Path) -> tuple[ssl.SSLContext, ssl.SSLContext]:
    """The server's and a client's."""
    authority = certificate("the shop's authority")
    write_pem(tmp_path, "ca", authority)
    write_pem(tmp_path, "pages", certificate("pages", authority))
    client = ssl.create_default_context(cafile=str(tmp_path / "ca.crt"))
    return Tls(tmp_path / "pages.crt", tmp_path / "pages.key").context(), client


async def test_under_tls_cookies_and_headers_are_stricter(
    tls: tuple[ssl.SSLContext, ssl.SSLContext], tmp_path: Path
) -> None:
    async with site(tmp_path, tls=tls[0], verify=tls[1]) as made, made.browser() as browser:
        said = await browser.post("/enter", data={"name": "R", "password": "the bay's credential"})
        cookie = said.headers["set-cookie"]
        assert cookie.startswith("__Host-ringtrue=")
        for part in ("; Secure", "HttpOnly", "SameSite=strict", "Path=/"):
            assert part in cookie
        assert "Domain" not in cookie
        assert said.headers["strict-transport-security"] == SECURE_HEADERS["Strict-Transport-Security"]
        assert (await browser.get("/api/me")).json()["person"] == "R"
        browser.headers.pop("X-Ringtrue")
        for origin, status in ((made.root, 204), (made.root.replace("https", "http"), 403)):
            assert (await browser.post("/leave", headers={"Origin": origin})).status_code == status


@pytest.mark.parametrize(("version", "is_spoken"), [("TLSv1_1", False), ("TLSv1_2", True), ("TLSv1_3", True)])
@pytest.mark.filterwarnings("ignore:ssl.TLSVersion.TLSv1_1 is deprecated")
async def test_no_tls_of_before_1_2_is_spoken(
    version: str, is_spoken: bool, tls: tuple[ssl.SSLContext, ssl.SSLContext], tmp_path: Path
) -> None:
    context = tls[1]
    context.minimum_version = context.maximum_version = ssl.TLSVersion[version]
    if not is_spoken:
        context.set_ciphers("ALL:@SECLEVEL=0")
    assert tls[0].minimum_version == ssl.TLSVersion.TLSv1_2
    async with site(tmp_path, tls=tls[0], verify=tls[1]) as made:
        port = int(made.root.rpartition(":")[2])
        if is_spoken:
            _, writer = await asyncio.open_connection("127.0.0.1", port, ssl=context)
            writer.close()
            await writer.wait_closed()
        else:
            with pytest.raises((ssl.SSLError, ConnectionError)):
                await asyncio.open_connection("127.0.0.1", port, ssl=context)


async def _connect(made: Site) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
    return await asyncio.open_connection("127.0.0.1", int(made.root.rpartition(":")[2]))


async def _raw(made: Site, request: str) -> tuple[int, bytes, bytes]:
    """One request as it is written; status, head and body of the answer."""
    reader, writer = await _connect(made)
    writer.write(request.encode())
    async with asyncio.timeout(10):
        head = await reader.readuntil(b"\r\n\r\n")
        length = [line for line in head.lower().split(b"\r\n") if line.startswith(b"content-length:")]
        body = await reader.readexactly(int(length[0].partition(b":")[2])) if length else b""
    writer.close()
    return int(head.split()[1]), head, body
