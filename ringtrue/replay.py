"""A bay whose gauges are captures: never to be taken for the bay itself.

What was measured once must not become an inspection of today: the replay has a name, a journal, records and
photos of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from config.bay import BayFiles
from drivers.transports import CAPTURE
from ringtrue.arguments import UsageError


def replayed(bay: BayFiles, captures: Sequence[str]) -> BayFiles:
    """The bay with these captures, each `GAUGE=FILE`, in place of ports. Raises UsageError."""
    from drivers.capture import read_capture
    from drivers.errors import CaptureError
    from drivers.transports.capture import SPEED
    from drivers.transports.capture import named as played

    settings = bay.settings
    files: dict[str, str] = {}
    for named in captures:
        gauge, _, file = named.partition("=")
        known = ", ".join(one.id for one in settings.gauge)
        if gauge not in [one.id for one in settings.gauge] or not file:
            raise UsageError("--from-capture", named, f"GAUGE=FILE with a gauge of the bay ({known})")
        if gauge in files:
            raise UsageError("--from-capture", named, f"{gauge} once")
        try:
            path, speed = played(file)
            read_capture(path)
        except OSError as error:
            expected = f"a capture's file that can be read ({error.strerror})"
            raise UsageError("--from-capture", named, expected) from None
        except CaptureError as error:
            raise UsageError("--from-capture", named, f"a capture ({error})") from None
        files[gauge] = f"{path.absolute()}?{SPEED}{speed:g}"
    folder = settings.journal.path.parent / "replay"
    gauges = tuple(
        one.model_copy(update={"port": f"{CAPTURE}{files[one.id]}", "usb": None}) if one.id in files else one
        for one in settings.gauge
    )
    own = {
        "bay": settings.bay.model_copy(update={"name": f"{settings.bay.name}-replay"}),
        "journal": settings.journal.model_copy(update={"path": folder / "journal.db", "key": None}),
        "records": settings.records.model_copy(update={"url": f"sqlite:///{folder}/records.db"}),
        "photos": settings.photos.model_copy(update={"folder": folder / "photos"}),
        "gauge": gauges,
    }
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        expected = f"a folder {folder} that can be made ({error.strerror})"
        raise UsageError("--from-capture", ", ".join(captures), expected) from None
    return replace(bay, settings=settings.model_copy(update=own))
