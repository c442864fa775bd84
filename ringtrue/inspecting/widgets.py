"""The parts of a page in the terminal: what is typed into, and what is pressed."""

from __future__ import annotations

from textual import events
from textual.containers import VerticalScroll
from textual.message import Message
from textual.widgets import Input, Static

from display.walk.page import Choice, Field

# In a field of digits these are typed; every other letter is a choice.
DIGITS = "0123456789.,+-"


class Pressed(Message):
    """A choice was made: by its key, by Enter on it, or by touch."""

    def __init__(self, key: str) -> None:
        super().__init__()
        self.key = key


class Resized(Message):
    """A part has another size."""


class Lines(Static):
    """Plain text, wrapped."""

    def __init__(self, *, id: str) -> None:  # noqa: A002 the library names it so
        super().__init__(id=id, markup=False)

    def on_resize(self) -> None:
        """As many lines as it needs."""
        self.post_message(Resized())


class Scrolled(VerticalScroll, can_focus=False):
    """Scrolls what does not fit; never takes the focus."""

    def on_resize(self) -> None:
        """Its parts have changed, or there is another room for it."""
        self.post_message(Resized())


class Target(Static, can_focus=True):
    """One choice, a line of its own, or three where there is room."""

    def __init__(self, choice: Choice) -> None:
        super().__init__(markup=False, classes="target")
        self.key = choice.key
        self._label = ""
        self.set_class(choice.main, "main")
        self.show(choice)

    def show(self, choice: Choice, *, is_off: bool = False) -> None:
        """Its label may change while it stays the same choice. is_off: not now; it keeps the focus, which
        must not fall to another choice while somebody presses Enter twice."""
        self.set_class(is_off, "off")
        if self._label != choice.label:
            self._label = choice.label
            key = {"enter": "Enter", "esc": "Esc"}.get(choice.key, choice.key)
            self.update(f"[{key}] {choice.label}")

    def on_click(self) -> None:
        """Touched."""
        self.post_message(Pressed(self.key))

    def on_key(self, event: events.Key) -> None:
        """Enter on the one that is chosen."""
        if event.key == "enter":
            event.stop()
            self.post_message(Pressed(self.key))


class Entry(Input):
    """One field; letters go on to the page where only digits are typed."""

    def __init__(self, field: Field, value: str) -> None:
        super().__init__(value, placeholder=field.hint, compact=True, select_on_focus=False)
        self.field = field

    async def _on_key(self, event: events.Key) -> None:
        focused = self.screen.focused
        if isinstance(focused, Entry) and focused is not self:
            # Keys that come faster than messages go round, as from a scanner: they are the next field's.
            event.prevent_default()
            event.stop()
            focused.post_message(event)
            return
        if event.key == "enter":
            event.prevent_default()
            event.stop()
            self._go_on()
            return
        letter = event.character
        if self.field.number and letter and letter.isprintable() and letter not in DIGITS:
            event.prevent_default()
            event.stop()
            self.post_message(Pressed(letter))
            return
        await super()._on_key(event)
        event.prevent_default()

    def _go_on(self) -> None:
        """To the next field, and from the last one on."""
        entries = list(self.screen.query(Entry))
        following = entries[entries.index(self) + 1 :]
        if following:
            self.screen.set_focus(following[0])
        else:
            self.post_message(Pressed("enter"))
