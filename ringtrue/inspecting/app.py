"""The walk in the terminal: shows one page, takes keys, sends what they mean."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import ClassVar

from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.events import Key, Resize
from textual.widgets import Input

from config.errors import RingtrueError
from link.client import REPLY_MAX_S
from link.errors import RefusedError
from ringtrue.inspecting.bay import BayAtHand
from ringtrue.inspecting.page import Act, Choice, EntryError, Leave, Page, Send, Turn, go
from ringtrue.inspecting.place import Place
from ringtrue.inspecting.sheet import Sheet
from ringtrue.inspecting.style import AIRY_ROWS, CSS, ROOMY_ROWS, THEME
from ringtrue.inspecting.view import View
from ringtrue.inspecting.walk import moved, page_of
from ringtrue.inspecting.widgets import Entry, Pressed, Target

# Seconds without an answer after which that is said.
SLOW_S = 1.5
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
        keep: Callable[[Path], str] | None = None,
    ) -> None:
        super().__init__()
        self._changed = asyncio.Event()
        self._bay = bay(self._changed.set)
        self._signer, self._keep = signer, keep
        self._place = Place()
        self._typed: dict[str, str] = {}
        self._page = Page("", "")
        self._base = ""
        self._question: tuple[str, Page] | None = None
        self._notice = ""
        self._sending = False
        self._rung: str | None = None

    def compose(self) -> ComposeResult:
        """One sheet, whose page changes."""
        yield Sheet()

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
        return self._page

    # -- showing

    async def _show_for_ever(self) -> None:
        while True:
            await self._changed.wait()
            self._changed.clear()
            await self._show()

    async def _show(self) -> None:
        view = replace(self._bay.view(), keep=self._keep)
        self._place = moved(view, self._place)
        page = page_of(view, self._place, self._typed, self._signer)
        if self._base != page.name:
            self._base, self._question = page.name, None
        if self._question is not None:
            page = replace(self._question[1], cautions=page.cautions)
        self._page = page
        for field in page.fields:
            self._typed.setdefault(field.id, field.first)
        await self.query_one(Sheet).show(
            page,
            self._typed,
            alarm=self._alarm(view),
            notice=self._notice,
            is_busy=self._is_busy(view),
        )
        if page.rings is not None and page.rings != self._rung:
            self.bell()
        self._rung = page.rings

    def _alarm(self, view: View) -> str:
        if view.away is not None and view.live is not None:
            return f"BAY AWAY: {view.away}. Trying again: leave everything as it stands."
        if view.asking is not None and view.asking_s >= SLOW_S:
            why = " Does the broker let this user send commands?" if view.asking_s >= REPLY_MAX_S else ""
            return (
                f"NO ANSWER to {view.asking} for {view.asking_s:.0f} s. Asking on: leave everything as it "
                f"stands.{why}"
            )
        return ""

    def action_read(self, pages: int) -> None:
        """Read on, or back."""
        self.query_one(Sheet).read(pages)

    # -- keys

    def on_key(self, event: Key) -> None:
        """A single key is a choice, unless it is typed into a field."""
        key = event.character or ""
        if self._page.chosen(key) is not None:
            event.stop()
            self._press(key)

    def on_pressed(self, event: Pressed) -> None:
        """A choice was made."""
        self._press(event.key)

    def on_input_changed(self, event: Input.Changed) -> None:
        """What is typed is kept, whatever page comes."""
        if isinstance(event.input, Entry):
            self._typed[event.input.field.id] = event.value

    def action_out(self) -> None:
        """Out of a field to the choices; else the page before."""
        if isinstance(self.focused, Entry) and not self.focused.field.number:
            self.set_focus(next(iter(self.query(Target)), None))
        else:
            self._press("n" if self._question is not None else "esc")

    def action_leave(self) -> None:
        """As the key q, from everywhere."""
        self._do(Leave())
        self._changed.set()

    def _press(self, key: str) -> None:
        choice = self._page.chosen(key)
        if choice is None or (self._is_busy(self._bay.view()) and not choice.away):
            return
        self._notice = ""
        if choice.confirm is not None:
            self._ask(choice.confirm, choice)
        else:
            self._choose(choice)
        self._changed.set()

    def _is_busy(self, view: View) -> bool:
        return self._sending or view.asking is not None or view.away is not None

    def _choose(self, choice: Choice) -> None:
        values = {name: text.strip() for name, text in self._typed.items()}
        try:
            act = choice.act(values)
        except EntryError as error:
            self._notice = str(error)
            for entry in self.query(Entry):
                if entry.field.id == error.field:
                    self.screen.set_focus(entry)
            return
        except RingtrueError as error:
            self._notice = str(error)
            return
        self._question = None
        self._do(act)

    def _ask(self, text: str, yes: Choice, label: str = "yes") -> None:
        """A question of its own page, until it is answered or the page beneath it is another."""
        asked = replace(yes, key="y", label=label, main=False, confirm=None)
        no = Choice("n", "no: as it was", go(self._place), away=True)
        page = Page(f"question {text}", "are you sure?", says=(text,), choices=(asked, no))
        self._question = self._base, page

    def _do(self, act: Act) -> None:
        match act:
            case Turn():
                self._place = act.place
            case Leave():
                self._leave(act)
            case Send() if not self._sending:
                self._sending = True
                self.run_worker(self._send(act), group="send")

    def _leave(self, leave: Leave) -> None:
        view = self._bay.view()
        running = []
        if view.now.check is not None:
            running.append(f"the {view.now.check} goes on")
        if view.is_timing:
            running.append("a dwell is being timed")
        if view.asking is not None:
            running.append(f"{view.asking} is not answered yet")
        if leave.sure or not running:
            self.exit()
            return
        text = f"At the bay {', '.join(running)}. Leave this screen? Nothing at the bay is ended."
        self._ask(text, Choice("q", "", lambda _: Leave(sure=True), away=True), "leave")

    async def _send(self, act: Send) -> None:
        try:
            reply = await self._bay.ask(act.name, act.arguments, settles=act.settles)
        except RefusedError as refused:
            if refused.code == act.asks:
                sure = replace(act, arguments={**act.arguments, "sure": True}, asks=None)
                self._ask(refused.message, Choice("y", "", lambda _: sure), "yes: do it")
            else:
                self._notice = f"NOT DONE. {refused.message}"
        except RingtrueError as error:
            self._notice = f"NOT DONE. {error}"
        else:
            self._forget(act.forget)
            self._notice = str(reply.get("warning") or "")
            if act.then is not None:
                self._place = act.then(self._place, reply)
        finally:
            self._sending = False
            self._changed.set()

    def _forget(self, fields: tuple[str, ...]) -> None:
        for name in fields:
            self._typed[name] = ""
        for entry in self.query(Entry):
            if entry.field.id in fields:
                entry.value = ""
        first = next(iter(self.query(Entry)), None)
        if first is not None:
            self.screen.set_focus(first)
