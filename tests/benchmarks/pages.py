"""From a line written on a port until the wall in a browser shows it, and memory over a day.

The line says its own number, in µm, and so does the largest deviation on the wall: what is seen tells which
line it came of. Against a bare stream: as many events a second from a server that does nothing else, to a
page that only writes them down. Seen: when the browser draws what it was told (requestAnimationFrame).
"""

from __future__ import annotations

import json
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page, sync_playwright

from contract.live import Live, live_payload
from contract.topics import Topics
from display.web.feed import Feed
from link.address import BrokerAddress
from tests.benchmarks import stage
from tests.benchmarks.board import CONTEXT, new_board, process, until
from tests.benchmarks.feeder import GO, HUSH, HUSHED, counting_lines, encoder_lines, feed_paced
from tests.benchmarks.latency import below
from tests.benchmarks.listener import record
from tests.benchmarks.table import Figure, Row
from tests.display.browser.conftest import ARGS
from tests.link.outside import free_port

PERIOD_S, LINES, LINES_SHORT = 0.02, 1500, 500
MS, PER_S, MB = "{:.0f} ms", "{:.1f} a second", "{:.1f} MB"
LATENCY_MAX_MS, UPDATES_MIN = 150.0, 10.0
# The daemon's live is said 20 times a second, and the stream tells several changes at once: 50 ms and 40 ms
# at most, on a floor of some 16, two frames of the screen.
RATIO_HOLDS = 10.0
HOURS, ASKED_AT_H, A_SECOND = 8, (1, 4, 8), 20
GROWTH_MAX = 0.10
WATCH = """() => {
  window.seen = [];
  const node = document.querySelector("SELECTOR");
  let waits = false;
  new MutationObserver(() => {
    if (waits) return;
    waits = true;
    requestAnimationFrame(() => {
      waits = false;
      window.seen.push([node.textContent, performance.timeOrigin + performance.now()]);
    });
  }).observe(node, {subtree: true, childList: true, characterData: true});
}"""
BARE = b"""<!doctype html><html lang=en><title>bare</title><p id=one></p><script>
new EventSource("/stream").onmessage = (said) => { document.getElementById("one").textContent = said.data; };
</script>"""


def measure(*, short: bool = False) -> list[Row]:
    """Latency; in full also what a day of messages leaves in memory."""
    lines = LINES_SHORT if short else LINES
    with browser() as chromium:
        floor = bare(chromium, lines)
        ours, updates = wall(chromium, lines)
        rows = []
        for name, share in (("median", 0.5), ("95th percentile", 0.95)):
            own, theirs = below(ours, share), below(floor, share)
            ratio = own / max(theirs, 1.0)
            is_met = own <= LATENCY_MAX_MS if share > 0.9 and not short else None
            aim = f"≤ {LATENCY_MAX_MS:g} ms" if is_met is not None else ""
            figures = Figure((theirs,), MS), Figure((own,), MS)
            holds = ratio <= RATIO_HOLDS if share > 0.9 else None
            what, against = f"reading to the wall, {name}", "a bare stream to a bare page"
            rows.append(Row(what, against, *figures, ratio, aim, is_met, holds))
        shown, is_enough = Figure((updates,), PER_S), updates >= UPDATES_MIN
        rows.append(Row("updates of the wall", "", None, shown, None, f"≥ {UPDATES_MIN:g}", is_enough))
        return rows if short else [*rows, *grown("the page's heap", page_by_hour(chromium)), *server_rows()]


@contextmanager
def browser() -> Iterator[Browser]:
    """Debian's own."""
    with sync_playwright() as playwright:
        made = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=list(ARGS))
        try:
            yield made
        finally:
            made.close()


def wall(chromium: Browser, lines: int) -> tuple[list[float], float]:
    """Delays in ms, in order of size, of each figure that was seen; and how many of them a second."""
    board = new_board()
    near, far = CONTEXT.Pipe()
    _, sender = CONTEXT.Pipe()
    feeder = (feed_paced, board, far, [counting_lines(lines), encoder_lines(lines)], PERIOD_S, 1)
    page = chromium.new_page()
    with stage.folder() as place, stage.broker(place) as port, process(*feeder):
        config = stage.write_bay(place, f'url = "mqtt://127.0.0.1:{port}"', near.recv())
        with process(record, board, port, stage.READINGS, sender), stage.daemon(config) as pid:
            until(lambda: board.heard >= 4, "the first readings")
            stage.begin_sweep(config)
            with pages(config) as url:
                page.goto(f"{url}/wall")
                page.wait_for_selector(".figure-digits")
                board.stage = HUSH
                until(lambda: board.stage == HUSHED, "the feeder")
                stage.come_to_rest(pid)
                page.evaluate(WATCH.replace("SELECTOR", ".figure-digits"))
                board.stage = GO
                written_ns = near.recv()[0]
                last = f"{lines / 1000:.3f}"
                page.locator(".figure-digits", has_text=last).wait_for()
                seen: list[tuple[str, float]] = page.evaluate("window.seen")
    page.close()
    to_epoch_ms = time.time() * 1e3 - time.monotonic_ns() / 1e6
    delays = sorted(
        at_ms - written_ns[round(1000 * float(text)) - 1] / 1e6 - to_epoch_ms for text, at_ms in seen
    )
    return delays, len(seen) / (lines * PERIOD_S)


@contextmanager
def pages(config: Path) -> Iterator[str]:
    """`ringtrue display` while the block runs; where it is."""
    port = free_port()
    command = [sys.executable, "-m", "ringtrue", "display", "--config", str(config)]
    with (config.parent / "display.log").open("ab") as log:
        child = subprocess.Popen(
            [*command, "--listen", f"127.0.0.1:{port}"], cwd=stage.ROOT, stdout=log, stderr=log
        )
    try:
        until(lambda: "/wall" in (config.parent / "display.log").read_text(), "the pages")
        yield f"http://127.0.0.1:{port}"
    finally:
        child.terminate()
        child.wait()


def bare(chromium: Browser, lines: int) -> list[float]:
    """The floor's delays, in ms, in order of size: the same pace, the time itself as what is shown."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            if self.path != "/stream":
                self.send_header("Content-Type", "text/html")
                self.end_headers()
                self.wfile.write(BARE)
                return
            self.send_header("Content-Type", "text/event-stream")
            self.end_headers()
            go.wait()
            for _ in range(lines):
                self.wfile.write(f"data: {time.time() * 1e3:.3f}\n\n".encode())
                self.wfile.flush()
                time.sleep(PERIOD_S)
            done.set()

        def log_message(self, *_: object) -> None:
            return

    go, done = threading.Event(), threading.Event()
    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    page = chromium.new_page()
    page.goto(f"http://127.0.0.1:{server.server_port}/")
    page.evaluate(WATCH.replace("SELECTOR", "#one"))
    go.set()
    done.wait()
    page.wait_for_timeout(200)
    seen: list[tuple[str, float]] = page.evaluate("window.seen")
    page.close()
    server.shutdown()
    server.server_close()
    return sorted(at_ms - float(text) for text, at_ms in seen)


# -- memory


def message(number: int) -> dict[str, Any]:
    """What live says the `number`th time of a day of sweeps, one after another."""
    n = number % 3600
    return json.loads(  # type: ignore[no-any-return]  # one object, as it was written
        live_payload(
            Live(
                inspection=f"truck-{number // 36_000}",
                check=("rim", "face")[number // 3600 % 2],
                gauge="indicator-1",
                angle_deg=n / 10.0,
                value_mm=n % 97 / 500,
                min_mm=0.0,
                max_mm=0.2,
                max_deviation_mm=n / 20_000,
                covered_deg=n / 10.0,
                to_bar_deg=365.0 - n / 10.0,
                limit_mm=0.28,
                readings=n,
                warnings=("barred back",) * (n % 50 == 0),
            )
        )
    )


SPEAK = """async ([first, number]) => {
  for (let n = first; n < first + number; n += 1) {
    window.speak(n);
    if (n % 200 === 0) await new Promise(requestAnimationFrame);
  }
}"""
# In place of the browser's own, and one message made by another number.
STUB = """(() => {
  const made = [];
  window.EventSource = class extends EventTarget {
    constructor() { super(); this.readyState = 1; made.push(this); }
    close() {}
  };
  const base = MESSAGE;
  const tell = (name, data) => made.forEach((one) =>
    one.dispatchEvent(new MessageEvent(name, {data: JSON.stringify(data)})));
  window.greet = () => {
    tell("broker", {away: null});
    tell("bay", {bay: "greywacke/bay-2", away: null, status: {state: "online", warnings: []}, gauges:
      {"indicator-1": {state: "connected", reason: "reading", since: "2026-03-02T06:00:00.000Z"}},
      live: base, result: null, trace: null});
  };
  window.speak = (n) => {
    const at = n % 3600;
    tell("bay", {bay: "greywacke/bay-2", live: {...base, readings: at, angle_deg: at / 10,
      covered_deg: at / 10, value_mm: (n % 97) / 500, max_deviation_mm: at / 20000,
      check: Math.floor(n / 3600) % 2 ? "face" : "rim", inspection: `truck-${Math.floor(n / 36000)}`}});
  };
})()"""


def page_by_hour(chromium: Browser) -> dict[int, float]:
    """MB of the wall's heap after so many hours of messages, told as fast as it takes them."""
    from tests.display.browser.wall_stage import staged

    with staged() as place:
        page = chromium.new_page()
        page.add_init_script(STUB.replace("MESSAGE", json.dumps(message(0))))
        page.goto(f"{place.url}/wall")
        page.wait_for_selector("main")
        page.evaluate("window.greet()")
        page.wait_for_selector(".figure-digits")
        found = {}
        hour = 3600 * A_SECOND
        for number in range(HOURS):
            page.evaluate(SPEAK, [number * hour, hour])
            if number + 1 in ASKED_AT_H:
                found[number + 1] = heap_mb(page)
        page.close()
    return found


def heap_mb(page: Page) -> float:
    """After the garbage is collected."""
    devtools = page.context.new_cdp_session(page)
    devtools.send("HeapProfiler.collectGarbage")
    used = devtools.send("Runtime.getHeapUsage")["usedSize"]
    devtools.detach()
    return float(used) / 1e6


def server_rows() -> list[Row]:
    """In a process of its own."""
    near, far = CONTEXT.Pipe()
    with process(hear_through, far):
        by_hour: dict[int, float] = near.recv()
    return grown("the pages' server", by_hour)


def hear_through(result: Any) -> None:
    """A day of messages, with four pages that each take what is new once a second."""
    feed = Feed(lambda: BrokerAddress("127.0.0.1", 1))
    topic = Topics(stage.SITE, stage.BAY).live
    found = {}
    with feed.watch() as one, feed.watch() as two, feed.watch() as three, feed.watch() as four:
        for number in range(HOURS * 3600 * A_SECOND):
            feed.hear(topic, json.dumps(message(number)).encode())
            if number % A_SECOND == 0:
                for watcher in (one, two, three, four):
                    watcher.take()
            hours, rest = divmod(number + 1, 3600 * A_SECOND)
            if not rest and hours in ASKED_AT_H:
                found[hours] = resident_mb()
    result.send(found)


def resident_mb() -> float:
    """Of this process."""
    pages_used = int(Path("/proc/self/statm").read_text().split()[1])
    return pages_used * 4096 / 1e6


def grown(what: str, by_hour: dict[int, float]) -> list[Row]:
    """Against the first hour."""
    first = Figure((by_hour[1],), MB)
    rows = []
    for hour in ASKED_AT_H[1:]:
        growth = by_hour[hour] / by_hour[1] - 1
        own, aim = Figure((by_hour[hour],), MB), f"≤ {1 + GROWTH_MAX:.2f}"
        rows.append(
            Row(f"{what} after {hour} h", "after 1 h", first, own, 1 + growth, aim, growth < GROWTH_MAX)
        )
    return rows
