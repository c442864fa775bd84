"""Pictures from a camera: into the bay's folder and onto the record, or neither."""

from __future__ import annotations

import asyncio
import tempfile
from collections.abc import Awaitable, Callable
from pathlib import Path

from starlette.requests import Request

from config.errors import RingtrueError
from display.walk.view import PictureKept
from display.web.body import pour

PICTURE_BYTES_MAX = 20_000_000
AT_ONCE = 4
"""Pictures that come in at once; others wait."""
ANSWER_MAX_S = 20.0
"""Seconds for the bay to take a picture onto its record."""
HEIC = (b"ftypheic", b"ftypheix", b"ftyphevc", b"ftypmif1", b"ftypmsf1")
"""How a picture in HEIC begins, after four bytes of length (ISO/IEC 23008-12): nothing here reads it."""


class NotTakenError(RingtrueError):
    """The picture is not on record; says why."""


class Camera:
    """keep: puts a picture into the bay's folder."""

    def __init__(self, keep: Callable[[Path], PictureKept]) -> None:
        self._keep = keep
        self._few = asyncio.Semaphore(AT_ONCE)
        # One after the other: a picture is large in memory; and what was refused is taken out before the
        # same is put in by another.
        self._one = asyncio.Lock()

    async def take(self, request: Request, record: Callable[[str], Awaitable[None]]) -> None:
        """The picture that is sent. record: tells the bay of the file. Raises TooMuchError, or RingtrueError
        where it is no picture, or the bay does not take it."""
        async with self._few:
            with tempfile.NamedTemporaryFile(prefix="ringtrue-") as file:
                await pour(request, PICTURE_BYTES_MAX, file.write)
                file.flush()
                async with self._one:
                    kept = await asyncio.to_thread(self._kept, Path(file.name))
                    await self._recorded(kept, record)

    def _kept(self, file: Path) -> PictureKept:
        with file.open("rb") as picture:
            if picture.read(12)[4:] in HEIC:
                raise NotTakenError("A picture in HEIC cannot be read here: set the camera to JPEG.")
        try:
            return self._keep(file)
        except RingtrueError as error:  # whose file has a name that nobody here knows
            raise NotTakenError(str(error).replace(str(file), "the picture")) from None

    async def _recorded(self, kept: PictureKept, record: Callable[[str], Awaitable[None]]) -> None:
        try:
            async with asyncio.timeout(ANSWER_MAX_S):
                await record(kept.name)
        except RingtrueError:
            await asyncio.to_thread(kept.drop)
            raise
        except TimeoutError:  # it may be on record, so its file stays
            why = "The bay has not answered: look whether the picture is there, else take it again."
            raise NotTakenError(why) from None
