"""The walk in the terminal: draws one page, and takes keys."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Coroutine
from pathlib import Path
from typing import Any, ClassVar

from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.css.query import NoMatches
from textual.events import Key, Resize
from textual.widgets import Input

from display.walk.bay import BayAtHand
from display.walk.page import Page
from display.walk.view import PictureKept
from display.walk.walker import Walker
from ringtrue.inspecting.sheet import Sheet
from ringtrue.inspecting.style import AIRY_ROWS, CSS, ROOMY_ROWS, THEME
from ringtrue.inspecting.widgets import Entry, Pressed, Target

# Seconds between two looks at the clock: timers count on, and what is away is said.
TICK_S = 1.0


class InspectApp(App[None]):
    """bay: made with what it is to call when there is news. signer: who may sign. keep: as in View."""

    TITLE = "ringtrue inspect"
    CSS = CSS
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "out", show=False),
        Binding("ctrl+c,ctrl+q", "leave", show=False, priority=True),
        Binding("down", "app.focus_next", show=False),
        Binding("up", "app.focus_previous", show=False),
        Binding("pagedown", "read(1)", show=False, priority=True),
        Binding("pageup", "read(-1)", show=False, priority=True),
    ]

    def __init__(
        self,
        bay: Callable[[Callable[[], None]], BayAtHand],
        signer: str = "",
        keep: Callable[[Path], PictureKept] | None = None,
    ) -> None:
        super().__init__()
        self._changed = asyncio.Event()
        self._bay = bay(self._changed.set)
        self._walker = Walker(
            self._bay,
            signer=signer,
            keep=keep,
            spawn=self._beside,
            on_leave=self.exit,
            on_change=self._changed.set,
        )
        self._forgotten = 0
        self._rung: str | None = None

    def compose(self) -> ComposeResult:
        """One sheet, whose page changes."""
        yield Sheet(self._walker.words)

    def on_mount(self) -> None:
        """Hear the bay, and show what it says."""
        self.register_theme(THEME)
        self.theme = THEME.name
        self.run_worker(self._bay.run(), group="bay")
        self.run_worker(self._show_for_ever(), group="show")
        self.set_interval(TICK_S, self._changed.set)
        self._changed.set()

    def on_resize(self, event: Resize) -> None:
        """Air between the parts where there is room, and three lines for each choice."""
        self.set_class(event.size.height >= AIRY_ROWS, "airy")
        self.set_class(event.size.height >= ROOMY_ROWS, "roomy")
        self._changed.set()

    @property
    def page(self) -> Page:
        """What is shown."""
        return self._walker.page

    def _beside(self, work: Coroutine[Any, Any, None]) -> None:
        self.run_worker(work, group="send")

    # -- showing

    async def _show_for_ever(self) -> None:
        while True:
            await self._changed.wait()
            self._changed.clear()
            try:
                await self._show()
            except NoMatches:
                if self.is_running:
                    raise
                return  # it was taken down while it was drawn

    async def _show(self) -> None:
        walker = self._walker
        page = walker.show()
        self._write_fields()
        await self.query_one(Sheet).show(
            page, walker.typed, alarm=walker.alarm, notice=walker.notice, is_busy=walker.is_busy
        )
        if page.rings is not None and page.rings != self._rung:
            self.bell()
        self._rung = page.rings

    def _write_fields(self) -> None:
        """What has served is gone from its field, and the next is typed from the first on."""
        if self._forgotten == self._walker.forgotten:
            return
        self._forgotten = self._walker.forgotten
        entries = list(self.query(Entry))
        for entry in entries:
            entry.value = self._walker.typed.get(entry.field.id, "")
        if entries:
            self.screen.set_focus(entries[0])

    def action_read(self, pages: int) -> None:
        """Read on, or back."""
        self.query_one(Sheet).read(pages)

    # -- keys

    def on_key(self, event: Key) -> None:
        """A single key is a choice, unless it is typed into a field."""
        key = event.character or ""
        if self.page.chosen(key) is not None:
            event.stop()
            self._press(key)

    def on_pressed(self, event: Pressed) -> None:
        """A choice was made."""
        self._press(event.key)

    def on_input_changed(self, event: Input.Changed) -> None:
        """What is typed is kept, whatever page comes."""
        if isinstance(event.input, Entry):
            self._walker.typed[event.input.field.id] = event.value

    def action_out(self) -> None:
        """Out of a field to the choices; else the page before."""
        if isinstance(self.focused, Entry) and not self.focused.field.number:
            self.set_focus(next(iter(self.query(Target)), None))
        else:
            self._press("n" if self._walker.is_asked else "esc")

    def action_leave(self) -> None:
        """As the key q, from everywhere."""
        self._walker.leave()

    def _press(self, key: str) -> None:
        self._walker.press(key)
        for entry in self.query(Entry):
            if entry.field.id == self._walker.entry:
                self.screen.set_focus(entry)
