"""One page in the terminal: a column of parts, each written only where it has changed."""

from __future__ import annotations

from collections.abc import Mapping

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widget import Widget
from textual.widgets import Static

from display.walk.page import Page
from display.words import Words
from ringtrue.inspecting.big import big
from ringtrue.inspecting.widgets import Entry, Lines, Resized, Scrolled, Target

# Lines of cautions that are seen at once, at the least; the rest of them scrolls.
CAUTION_ROWS = 3


class Sheet(Vertical):
    """Cautions, what is said, what is asked, from top to bottom as it is read."""

    def __init__(self, words: Words) -> None:
        super().__init__()
        self._words = words
        self.page = Page("", "")
        self._written: dict[str, str] = {}

    def compose(self) -> ComposeResult:
        """Cautions and what is said scroll each by itself; what is asked is always in sight."""
        yield Lines(id="head")
        yield Lines(id="alarm")
        with Scrolled(id="told"):
            yield Lines(id="cautions")
        with Scrolled(id="panel"):
            yield Lines(id="says")
            yield Lines(id="big")
            yield Lines(id="rows")
        with Scrolled(id="asks"):
            yield Lines(id="notice")
            yield Vertical(id="fields")
            yield Vertical(id="choices")
        yield Static(id="foot", markup=False)

    async def show(
        self, page: Page, typed: Mapping[str, str], *, alarm: str, notice: str, is_busy: bool
    ) -> None:
        """Turn to a page, or write it anew. typed: by field. is_busy: only choices that are `away` serve."""
        before, self.page = self.page, page
        is_turned = before.shape != page.shape
        if is_turned:
            await self._build(page, typed)
        for name, text in (
            ("head", page.title),
            ("alarm", alarm),
            ("cautions", "\n".join(f"! {caution}" for caution in page.cautions)),
            ("says", "\n".join(page.says)),
            ("big", "" if page.big is None else big(page.big, self.size.width)),
            ("rows", "\n".join(page.rows)),
            ("notice", notice),
        ):
            if self._written.get(name) != text:  # the same anew would cost a layout
                part = self.query_one(f"#{name}", Lines)
                part.display = bool(text)
                part.update(text)
                self._written[name] = text
        for target in self.query(Target):
            choice = page.chosen(target.key)
            if choice is not None:
                target.show(choice, is_off=is_busy and not choice.away)
        if is_turned or self.screen.focused is None:
            self._focus(page)
        if is_turned:
            self.call_after_refresh(self.fit)

    async def _build(self, page: Page, typed: Mapping[str, str]) -> None:
        fields, choices = self.query_one("#fields"), self.query_one("#choices")
        lines: list[Widget] = [
            Horizontal(Static(field.label, markup=False), Entry(field, typed[field.id]), classes="line")
            for field in page.fields
        ]
        self.screen.set_focus(None)  # not left with what goes
        with self.app.batch_update():
            await fields.remove_children()
            await choices.remove_children()
            await fields.mount_all(lines)
            await choices.mount_all([Target(choice) for choice in page.choices])
        for part in self.query(Scrolled):
            part.scroll_home(animate=False)

    def _focus(self, page: Page) -> None:
        entries, main = self.query(Entry), page.main
        if entries:
            self.screen.set_focus(entries.first())
        elif main is not None:
            # None where the next page has come meanwhile: that one has its own.
            there = (target for target in self.query(Target) if target.key == main.key)
            self.screen.set_focus(next(there, None))
        else:
            self.screen.set_focus(None)

    def on_resized(self, event: Resized) -> None:
        """Another height of one part leaves another for the rest."""
        event.stop()
        self.fit()

    def fit(self) -> None:
        """The cautions have what the rest leaves, three lines at the least; what is below is scrolled to."""
        told, panel = self.query_one("#told"), self.query_one("#panel")
        told.display = bool(self.page.cautions)
        panel.display = bool(self.page.says or self.page.rows or self.page.big)
        needs = panel.gutter.height + sum(
            part.outer_size.height + part.styles.margin.height for part in panel.children if part.display
        )
        others = [self.query_one(f"#{name}") for name in ("head", "alarm", "asks", "foot")]
        left = self.size.height - sum(part.outer_size.height for part in others if part.display)
        cautions = self.query_one("#cautions").outer_size.height if told.display else 0
        most = min(cautions, max(CAUTION_ROWS, left - needs))
        told.styles.max_height, panel.styles.max_height = most, max(1, left - most)
        say = self._words.say
        hints = [say("PgDn: more")] if cautions > most or needs > left - most else []
        if any(not field.number for field in self.page.fields):
            hints.append(say("Esc: to the keys"))
        self.query_one("#foot", Static).update("  ".join(hints))

    def read(self, pages: int) -> None:
        """Read on: first what is said, then the cautions; from the end on from the beginning."""
        parts = [self.query_one("#panel", VerticalScroll), self.query_one("#told", VerticalScroll)]
        for part in parts if pages > 0 else reversed(parts):
            if (part.scroll_y < part.max_scroll_y) if pages > 0 else part.scroll_y > 0:
                part.scroll_relative(y=pages * max(1, part.size.height - 1), animate=False, immediate=True)
                return
        for part in parts:
            part.scroll_to(y=0 if pages > 0 else part.max_scroll_y, animate=False, immediate=True)
