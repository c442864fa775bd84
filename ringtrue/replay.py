"""A bay whose gauges are captures: never to be taken for the bay itself.

What was measured once must not become an inspection of today: the replay has a name, a journal, records and
photos of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from config.bay import BayFiles
from drivers.transports import CAPTURE
from ringtrue.arguments import UsageError


def replayed(bay: BayFiles, captures: Sequence[str]) -> BayFiles:
    """The bay with these captures, each `GAUGE=FILE`, in place of ports. Raises UsageError, CaptureError."""
    from drivers.capture import read_capture

    settings = bay.settings
    files: dict[str, Path] = {}
    for named in captures:
        gauge, _, file = named.partition("=")
        known = ", ".join(one.id for one in settings.gauge)
        if gauge not in [one.id for one in settings.gauge] or not file:
            raise UsageError("--from-capture", named, f"GAUGE=FILE with a gauge of the bay ({known})")
        if not Path(file.partition("?")[0]).is_file():
            raise UsageError("--from-capture", named, "a capture's file that is there")
        read_capture(Path(file.partition("?")[0]))
        files[gauge] = Path(file).absolute()
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
    folder.mkdir(parents=True, exist_ok=True)
    return replace(bay, settings=settings.model_copy(update=own))
