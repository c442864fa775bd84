"""How an inspection ends: closed, signed, given up; and what is put right afterwards."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING, Any

from acquire.bay.asked import Answer
from acquire.bay.copied import copied
from acquire.bay.correcting import correct
from acquire.bay.inspection import InspectionState, fold
from acquire.bay.known import Known, looser_said, misspelt_said
from acquire.errors import CommandRefusedError
from acquire.journal.events import Abandoned, Closed, Signed, SweepEnded
from acquire.journal.writer import Journal
from acquire.judging import Judging
from acquire.runs.abreast import Abreast, are, names_of
from acquire.runs.running import Running
from config.method import Method
from contract import commands
from contract.commands import Command
from contract.header import Header
from contract.terms import Verdict

if TYPE_CHECKING:
    from contract.result import Result

Common = Callable[[Command, str], dict[str, Any]]


class Ending:
    """The meaning of `close`, `abandon`, `sign` and `correct`. common: what an event shares with all; ending:
    the event that ends what runs. software: as in Opened."""

    def __init__(
        self,
        journal: Journal,
        common: Common,
        ending: Callable[[Command, Running, Any], SweepEnded],
        judging: Judging,
        software: str,
    ) -> None:
        self._journal = journal
        self._judging = judging
        self._software = software
        self._common = common
        self._ending = ending

    def finish(
        self,
        command: commands.Close | commands.Abandon,
        state: InspectionState | None,
        runs: Abreast,
        known: Known,
    ) -> Answer:
        """Nothing more is measured, or it is given up."""
        found = self._named(command.inspection, state)
        common = self._common(command, found.id)
        is_close = isinstance(command, commands.Close)
        name = "close" if is_close else "abandon"
        if found.state not in (("open",) if is_close else ("open", "closed")):
            text = f"{name}: inspection {found.id} is {found.state} already; open another one"
            raise CommandRefusedError("out-of-order", text)
        if runs.first is None or runs.first.begun.inspection != found.id:
            if isinstance(command, commands.Abandon):
                if found.state == "closed" and not command.sure:
                    _ask_if_found(self._result(name, found))
                return [Abandoned(**common)], {"inspection": found.id}
            _refuse_looser(name, found, known)
            from acquire.bay.verdict import closing  # heavy: see acquire.bay.evidence

            told = closing(self._journal, found, self._judging)
            return [Closed(**common, alike=copied(self._journal, found))], {"inspection": found.id, **told}
        if is_close:
            text = f"close: the {names_of(runs)} {are(runs)} running; end or cancel it first"
            raise CommandRefusedError("out-of-order", text)
        ended = [self._ending(command, run, "cancelled") for run in runs]
        return [*ended, Abandoned(**common)], {"inspection": found.id}

    def sign(self, command: commands.Sign, state: InspectionState | None, known: Known) -> Answer:
        """A person stands by it: by the verdict, or by a decision of their own that says why."""
        found = self._named(command.inspection, state)
        if found.state != "closed":
            first = {"open": "close it first", "signed": "it needs no second signature"}.get(
                found.state, "open another one"
            )
            text = f"sign: inspection {found.id} is {found.state}; {first}"
            raise CommandRefusedError("out-of-order", text)
        _refuse_looser("sign", found, known)
        decision = command.decision
        is_others = found.opened.software != self._software
        if decision is not None or not command.sure or is_others:
            result = self._result("sign", found)
            if is_others:
                result = self._by_todays_rules(found, result)
            if decision == result.verdict:
                decision = None
            if decision is not None and not command.remark.strip():
                text = (
                    f"sign: the verdict of {found.id} is {result.verdict}, your decision {decision}; "
                    "say why in remark"
                )
                raise CommandRefusedError("malformed", text)
            if not command.sure:
                _ask_if_not_keep(result, decision)
        signed = Signed(
            **self._common(command, found.id), name=command.name, decision=decision, remark=command.remark
        )
        return [signed], {"inspection": found.id}

    def correct(
        self,
        command: commands.Correct,
        state: InspectionState | None,
        runs: Abreast,
        now: datetime,
        known: Known,
    ) -> Answer:
        """Something was written down wrong."""
        found = self._named(command.inspection, state)

        def verdicts(header: Header) -> tuple[Verdict, Verdict]:
            if runs:  # it takes its time to be graded
                text = f"correct: that may change the verdict of {found.id}; first end the {names_of(runs)}"
                raise CommandRefusedError("out-of-order", text)
            from acquire.bay.verdict import verdicts_of  # heavy: see acquire.bay.evidence

            both = verdicts_of(self._journal, found, header, self._judging)
            if both is None:
                text = f"correct: {found.id} is still being written; send correct anew"
                raise CommandRefusedError("out-of-order", text)
            return both

        return correct(
            command, self._common(command, found.id), found, now, known, verdicts, software=self._software
        )

    def _result(self, name: str, found: InspectionState) -> Result:
        from acquire.bay.verdict import result_of  # heavy: see acquire.bay.evidence

        result = result_of(self._journal, found, self._judging)
        if result is None:
            text = f"{name}: {found.id} is still being written; wait for its replies, then send {name} anew"
            raise CommandRefusedError("out-of-order", text)
        return result

    def _by_todays_rules(self, found: InspectionState, before: Result) -> Result:
        """What was closed under another software is graded anew once it is signed: nobody signs that it is to
        go, and has it kept."""
        from acquire.bay.verdict import verdicts_of  # heavy: see acquire.bay.evidence

        both = verdicts_of(self._journal, found, found.header, self._judging)
        if both is None or both[1] == before.verdict:
            return before
        if both[1] == "keep":
            text = (
                f"sign: {found.id} was closed as {before.verdict}, and would be keep by the rules of "
                f"{self._software}: inspect again"
            )
            raise CommandRefusedError("out-of-order", text)
        return before.model_copy(update={"verdict": both[1]})

    def _named(self, inspection: str, state: InspectionState | None) -> InspectionState:
        if state is not None and state.id == inspection:
            return state
        events = self._journal.read(inspection, samples=False)
        if not events:
            latest = f"; the latest is {state.id}" if state is not None else ""
            text = f"there is no inspection {inspection} in this bay's journal{latest}"
            raise CommandRefusedError("no-such-inspection", text)
        return fold(events)


def _refuse_looser(name: str, found: InspectionState, known: Known) -> None:
    """What was opened before the register was read, or was put right, is held against it as it is now."""
    header = found.header
    method = Method.model_validate(found.opened.method)
    said = looser_said(header.engine, header.damper, known, method)
    if header.register_unread:
        said = misspelt_said(header.engine.serial, header.damper.serial, known) or said
    if said is not None:
        when = "was read" if header.register_unread else "was as it is now"
        before = f"{name}: {found.id} was opened before the register {when}"
        raise CommandRefusedError("out-of-order", f"{before}; {said}; abandon it, and open another")


def _ask_if_found(result: Result) -> None:
    """Refuse to give up what condemned its damper, or left it open, once: that stands all the same."""
    if result.verdict not in ("replace", "measure-again"):
        return
    raise CommandRefusedError(
        "ask-once",
        f"abandon: {result.inspection} was closed with {result.verdict}, and due goes by that until the "
        "damper is inspected again; sign it, and correct what was written down wrong; to give it up all the "
        "same, send abandon again with sure=true",
    )


def _ask_if_not_keep(result: Result, decision: str | None) -> None:
    """Refuse to sign what does not end in keep, once, saying why it does not."""
    if result.verdict == "keep":
        return
    from acquire.bay.verdict import shortfalls  # heavy: see acquire.bay.evidence

    why = ", ".join(shortfalls(result)) or "no check is done"
    how = "as it stands" if decision is None else f"with your decision {decision} beside it"
    text = (
        f"sign: the verdict of {result.inspection} is {result.verdict} ({why}); "
        f"to sign it {how}, send sign again with sure=true"
    )
    raise CommandRefusedError("ask-once", text)
