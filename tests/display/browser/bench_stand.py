"""A bay at work for the bench page: gauges on sockets, the daemon, the pages' server, and a browser."""

from __future__ import annotations

import asyncio
import re
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path

from playwright.async_api import Browser, BrowserContext, Locator, Page, async_playwright, expect

from config.bay import read_bay
from config.files import shipped
from config.profile import GaugeProfile
from config.toml import read_toml
from display.web.app import application
from display.web.server import bound, serve
from drivers.encoding import encode
from ringtrue.pages import world_of
from tests.acquire.running_bay import Running
from tests.acquire.stand import Stand
from tests.link.outside import free_port

CHROMIUM = Path("/usr/bin/chromium")
OPTIONS = ("--no-sandbox", "--disable-gpu", "--disable-background-networking")
TABLET, WIDE, PHONE = (800, 1280), (1280, 800), (390, 844)
NAME = "R. Example"
WAIT_MS = 45_000.0
"""Longest wait for anything that is to come; the machine may be busy."""
_MICROMETER = """
[[gauge]]
id = "micrometer-1"
profile = "line-key-mm"
port = "socket://127.0.0.1:{port}"
resolution_mm = 0.001
mpe_mm = 0.004
"""


class KeyedStand(Stand):
    """A stand with a micrometer too, which sends when its key is pressed."""

    def __init__(self) -> None:
        super().__init__()
        self.ports["micrometer-1"] = free_port()
        self._writers["micrometer-1"] = []
        self._micrometer = read_toml(shipped("gauges", "line-key-mm"), GaugeProfile)

    def config(self, folder: Path, mqtt: str) -> Path:
        file = super().config(folder, mqtt)
        file.write_text(file.read_text() + _MICROMETER.format(port=self.ports["micrometer-1"]))
        return file

    def marked_config(self, folder: Path, mqtt: str) -> Path:
        """The same without an encoder: the crank stops at marks."""
        file = self.config(folder, mqtt)
        head, _, rest = file.read_text().partition('[[gauge]]\nid = "encoder-1"')
        file.write_text(
            head + '[angle]\nsource = "marks"\nmarks_deg = [0, 120, 240]\n' + rest[rest.index("[[gauge]]") :]
        )
        return file

    def key(self, value_mm: float) -> None:
        """Its key is pressed."""
        for writer in self._writers["micrometer-1"]:
            writer.write(encode(round(value_mm * 1000) * 1000, self._micrometer))


@dataclass
class BenchBay:
    """What a test has in hand."""

    stand: KeyedStand
    running: Running
    browser: Browser
    folder: Path
    url: str = ""
    contexts: list[BrowserContext] = field(default_factory=list)

    @asynccontextmanager
    async def pages_up(self, port: int = 0) -> AsyncIterator[None]:
        """The pages are served meanwhile."""
        stop = asyncio.Event()
        listening = bound("127.0.0.1", port)
        self.url = f"http://127.0.0.1:{listening.getsockname()[1]}"
        world = world_of(self.running.files.settings)
        failures: list[BaseException] = []
        serving = asyncio.ensure_future(
            serve(application(world, failures.append), listening, None, stop, world.feed.end)
        )
        try:
            yield
        finally:
            stop.set()
            await serving
            assert failures == []

    @property
    def credential(self) -> str:
        """The bay's; empty where its broker asks for none."""
        is_ours = self.running.files.settings.mqtt.built_in
        return self.running.address.password or "" if is_ours else ""

    async def tablet(self, size: tuple[int, int] = TABLET, *, theme: str = "light") -> Page:
        """A browser of its own, at the bench."""
        context = await self.browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            color_scheme="dark" if theme == "dark" else "light",
            locale="en-GB",
        )
        context.set_default_timeout(WAIT_MS)
        self.contexts.append(context)
        page = await context.new_page()
        await page.goto(f"{self.url}/bench")
        await entered(page, self.credential)
        return page


async def entered(page: Page, credential: str) -> None:
    """Give name and credential."""
    await page.get_by_label("Your name").fill(NAME)
    await page.get_by_label("The bay's credential").fill(credential)
    await page.get_by_role("button", name="go in").click()
    await page.wait_for_url(re.compile(r"^http://[^/]+/bench$"))


@asynccontextmanager
async def bench_bay(folder: Path, mqtt: str = "port = 0", *, marks: bool = False) -> AsyncIterator[BenchBay]:
    """One with its gauges plugged in; daemon and pages are not up yet. mqtt: lines of the configuration."""
    expect.set_options(timeout=WAIT_MS)
    stand = KeyedStand()
    for gauge in stand.ports:
        await stand.plug_in(gauge)
    sending = asyncio.ensure_future(stand.send_for_ever())
    try:
        async with async_playwright() as playwright:
            browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=list(OPTIONS))
            config = stand.marked_config if marks else stand.config
            files = read_bay(config(folder, mqtt), {})
            bay = BenchBay(stand, Running(files), browser, folder)
            try:
                yield bay
            finally:
                for context in bay.contexts:
                    await context.close()
                await browser.close()
    finally:
        sending.cancel()
        await asyncio.wait([sending])
        for gauge in stand.ports:
            await stand.unplug(gauge)
        await asyncio.sleep(0)


def act(page: Page, words: str) -> Locator:
    """The choice with these words."""
    return page.locator("button.act", has_text=words)


async def see(page: Page, *words: str) -> None:
    """Wait until all of these are seen."""
    for one in words:
        await expect(page.locator("body")).to_contain_text(one, use_inner_text=True)


async def read(page: Page) -> None:
    """Read the cautions to their end."""
    await expect(page.locator("body[data-page='cautions']")).to_be_visible()
    for part in (".cautions", ".bench-main"):
        await page.locator(part).evaluate("node => node.scrollTo(0, node.scrollHeight)")
    await act(page, "read").click()


async def opened(page: Page, scope: str = "on the engine") -> None:
    """Open one by its form, and read its cautions."""
    await page.get_by_label("engine", exact=True).fill("GQ-E-2207")
    await page.get_by_label("damper", exact=True).fill("GQ-D-0815")
    await page.get_by_label("its name").fill("truck-14")
    await page.get_by_role("radio", name="rolled").check()
    await act(page, "go on").click()
    await act(page, scope).click()
    await read(page)
