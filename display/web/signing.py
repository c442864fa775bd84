"""Who may sign what, where each has a role."""

from __future__ import annotations

from collections.abc import Callable

from config.errors import RingtrueError
from display.walk.page import Act, Send, Turn
from display.web.people import may
from display.web.sessions import Session

Allows = Callable[[Act], None]


class NotAllowedError(RingtrueError):
    """Somebody may not do that; says who may."""


def allow_all(_: Act) -> None:
    """Where nobody has a role."""


def allowing(session: Session) -> Allows:
    """What somebody may do at the bench: sign by their own name, and decide against a verdict only as `own`.
    It raises NotAllowedError."""

    def allows(act: Act) -> None:
        match act:
            case Turn() if act.place.stage == "decide":
                decides, name = True, session.person
            case Send() if act.name == "sign":
                decides, name = "decision" in act.arguments, act.arguments["name"]
            case _:
                return
        if decides and not may(session.role, "own"):
            raise NotAllowedError(
                f"{session.person} may not decide against the verdict: somebody of role own must enter."
            )
        if name != session.person:
            raise NotAllowedError(
                f"{session.person} has entered here: sign by that name, or whoever signs enters first."
            )

    return allows
