"""Which method is in force at a bay: its own file's, or the one that its office has handed out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from config.errors import RingtrueError

if TYPE_CHECKING:
    from config.method import Method
    from config.settings import Settings


class NotVouchedForError(RingtrueError):
    """What was handed out cannot be vouched for; the message says why."""


def method_in_force(settings: Settings) -> Method:
    """As the daemon has it after a start. Raises ConfigError, NotVouchedForError."""
    from ringtrue.arguments import named_method

    handed_out = method_handed_out(settings)
    return named_method(str(settings.method.file), "[method] file") if handed_out is None else handed_out


def method_handed_out(settings: Settings) -> Method | None:
    """What the bay has taken up; None where that is none. Raises NotVouchedForError."""
    from acquire.methods import kept_file, read_kept
    from chain.errors import MethodRefusedError

    authority, path = settings.method.authority, kept_file(settings.journal.path)
    if authority is None:
        return None
    try:
        found = read_kept(path, authority, settings.bay.site, settings.method.least)
    except (MethodRefusedError, OSError) as error:
        raise NotVouchedForError(
            f"{path}: the method that was handed out cannot be vouched for: {error}; the office's next issue "
            "mends it, or move that file away: the bay then begins anew with its own"
        ) from None
    return None if found is None else found[0].method
