"""One person's way through an inspection: the page that is shown, and what a key does there."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from dataclasses import replace
from pathlib import Path
from typing import Any

from config.errors import RingtrueError
from contract.commands import COMMANDS, Of
from display.told import told
from display.walk.bay import BayAtHand
from display.walk.course import moved, page_of
from display.walk.page import Act, Choice, EntryError, Leave, Page, Send, Turn, go
from display.walk.pages.opening import FORM
from display.walk.place import Place
from display.walk.view import PictureKept, View
from display.words import Text, Words
from link.errors import RefusedError
from link.requests import REPLY_MAX_S

# Seconds without an answer after which that is said.
SLOW_S = 1.5
NOT_DONE, YES = Text("NOT DONE. {why}"), Text("yes")


class Walker:
    """signer: who may sign. keep: as in View. spawn: runs what waits for the bay beside. on_leave: the person
    has left. on_change: the page may be another now. allows: raises RingtrueError for what the person may not
    do.

    typed: by the id of its field; whatever draws the fields keeps it true. entry: the field whose text is not
    what it is for, until the next key. forgotten: counts up when a field's text has served and is gone. of:
    the inspection that the bay was last at, open or to be signed: what was typed is of that one, but for the
    form of the next.
    """

    def __init__(
        self,
        bay: BayAtHand,
        *,
        signer: str,
        keep: Callable[[Path], PictureKept] | None,
        spawn: Callable[[Coroutine[Any, Any, None]], object],
        on_leave: Callable[[], None],
        on_change: Callable[[], None],
        allows: Callable[[Act], None] = lambda _: None,
    ) -> None:
        self._bay = bay
        self._allows = allows
        self._signer, self._keep = signer, keep
        self._spawn, self._on_leave, self._on_change = spawn, on_leave, on_change
        self._place = Place()
        self._base = ""
        self._question: tuple[str, Words, Page] | None = None
        self._sending = False
        self._page = Page("", "")
        self._numbers: set[str] = set()
        self.of: str | None = None
        self.typed: dict[str, str] = {}
        self.notice = ""
        self.entry: str | None = None
        self.forgotten = 0

    @property
    def words(self) -> Words:
        """In which language all of it is said."""
        return self._bay.view().words

    @property
    def page(self) -> Page:
        """What was shown last."""
        return self._page

    @property
    def place(self) -> Place:
        """Where the person looks."""
        return self._place

    @property
    def is_asked(self) -> bool:
        """Whether the page is a question that waits for its answer."""
        return self._question is not None

    def show(self) -> Page:
        """The page as the bay is now."""
        view = replace(self._bay.view(), keep=self._keep)
        self._place = moved(view, self._place)
        self._forget_other(view)
        page = page_of(view, self._place, self.typed, self._signer)
        if self._base != page.name:
            self._base, self._question = page.name, None
        if self._question is not None and self._question[1] != view.words:
            self._question = None  # it was asked in another language
        if self._question is not None:
            page = replace(self._question[2], cautions=page.cautions)
        self._page = page
        for field in page.fields:
            self.typed.setdefault(field.id, field.first)
            if field.number:
                self._numbers.add(field.id)
        return page

    @property
    def grading(self) -> str | None:
        """The check that is worked out."""
        return self._bay.view().grading

    def _forget_other(self, view: View) -> None:
        """A note, a remark, a figure that was typed of one damper stands in no field of the next."""
        result, of = view.result, view.now.inspection
        if of is None and result is not None and result.state == "closed":
            of = result.inspection
        if of is None or of == self.of:
            return
        if self.of is not None:
            self.typed = {name: text for name, text in self.typed.items() if name in FORM}
        self.of = of

    def forget_numbers(self) -> None:
        """As where another unit is to be read and typed: what was typed in the one is wrong in the other."""
        for field in self._numbers:
            self.typed[field] = ""

    @property
    def alarm(self) -> str:
        """What is wrong between this screen and the bay; empty where nothing is."""
        view, say = self._bay.view(), self.words.say
        if view.away is not None and view.live is not None:
            why = say(view.away)
            return say("BAY AWAY: {why}. Trying again: leave everything as it stands.", why=why)
        if view.asking is not None and view.asking_s >= SLOW_S:
            told = say(
                "NO ANSWER to {command} for {seconds} s. Asking on: leave everything as it stands.",
                command=view.asking,
                seconds=f"{view.asking_s:.0f}",
            )
            is_long = view.asking_s >= REPLY_MAX_S
            return f"{told} {say('Does the broker let this user send commands?')}" if is_long else told
        return ""

    @property
    def is_busy(self) -> bool:
        """Whether only choices that are `away` serve now."""
        view = self._bay.view()
        return self._sending or view.asking is not None or view.away is not None

    def press(self, key: str) -> None:
        """Take a key; one that is no choice of the page does nothing."""
        choice = self._page.chosen(key)
        if choice is None or (self.is_busy and not choice.away):
            return
        self.notice, self.entry = "", None
        if choice.confirm is not None:
            self._ask(choice.confirm, choice)
        else:
            self._choose(choice)
        self._on_change()

    def leave(self) -> None:
        """Out, from wherever it is."""
        self._do(Leave())
        self._on_change()

    def _choose(self, choice: Choice) -> None:
        values = {name: text.strip() for name, text in self.typed.items()}
        try:
            act = choice.act(values)
            self._allows(act)
        except EntryError as error:
            self.notice, self.entry = error.said(self.words), error.field
            return
        except RingtrueError as error:
            self.notice = told(str(error), self.words.language)
            return
        self._question = None
        self._do(act)

    def _ask(self, text: str, yes: Choice, label: Text = YES, more: str = "") -> None:
        """A question of its own page, until it is answered or the page beneath it is another. more: said
        after it."""
        words = self.words
        say = words.say
        asked = replace(yes, key="y", label=say(label), main=False, confirm=None)
        no = Choice("n", say("no: as it was"), go(self._place), away=True)
        page = Page(
            f"question {text}",
            say("are you sure?"),
            says=(text, more) if more else (text,),
            choices=(asked, no),
        )
        self._question = self._base, words, page

    def _do(self, act: Act) -> None:
        match act:
            case Turn():
                self._place = act.place
            case Leave():
                self._go(act)
            case Send() if not self._sending:
                self._sending = True
                self._spawn(self._send(self._named(act)))

    def _go(self, leave: Leave) -> None:
        running = _running(self._bay.view())
        if leave.sure or not running:
            self._on_leave()
            return
        text = self.words.say(
            "At the bay {what}. Leave this screen? Nothing at the bay is ended.", what=", ".join(running)
        )
        self._ask(text, Choice("q", "", lambda _: Leave(sure=True), away=True), Text("leave"))

    def _named(self, act: Send) -> Send:
        """With the inspection that this page is of: it may be asked for until another one is open."""
        if not issubclass(COMMANDS[act.name], Of) or self._place.inspection is None:
            return act
        return replace(act, arguments={**act.arguments, "inspection": self._place.inspection})

    async def _send(self, act: Send) -> None:
        try:
            reply = await self._bay.ask(act.name, act.arguments, settles=act.settles)
        except RefusedError as refused:
            if refused.code == act.asks:
                sure = replace(act, arguments={**act.arguments, "sure": True}, asks=None)
                # What it says after the fact is for whoever types commands.
                fact = refused.message.removeprefix(f"{act.name}: ").partition("; ")[0]
                self._ask(
                    f"{told(fact, self.words.language)}.",
                    Choice("y", "", lambda _: sure),
                    Text("yes: do it"),
                    act.question,
                )
            else:
                act.refused()
                self.notice = self.words.say(NOT_DONE, why=told(refused.message, self.words.language))
        except RingtrueError as error:
            self.notice = self.words.say(NOT_DONE, why=told(str(error), self.words.language))
        else:
            for name in act.forget:
                self.typed[name] = ""
            self.forgotten += 1
            said = [*reply.get("warnings", ()), *filter(None, [reply.get("warning")])]
            self.notice = ". ".join(told(str(one), self.words.language) for one in said)
            if act.then is not None:
                self._place = act.then(self._place, reply)
        finally:
            self._sending = False
            self._on_change()


def _running(view: View) -> list[str]:
    """What goes on at the bay."""
    running, say = [], view.words.say
    if view.now.check is not None:
        running.append(say("the {check} goes on", check=say(view.now.check)))
    if view.is_timing:
        running.append(say("a dwell is being timed"))
    if view.asking is not None:
        running.append(say("{command} is not answered yet", command=view.asking))
    return running
