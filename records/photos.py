"""Photos beside the record: without what a camera adds (place, time, maker), named for their own hash."""

from __future__ import annotations

import os
import tempfile
from dataclasses import dataclass
from hashlib import sha256
from io import BytesIO
from pathlib import Path

from PIL import Image, ImageOps, UnidentifiedImageError

from config.synced import sync_folder
from records.errors import PhotoRefusedError

SIDE_MAX = 2400
"""Pixels of the longer side: enough to see a crack's course, and a megabyte at most."""
PIXELS_MAX = 64_000_000
"""Of a picture as it comes: in memory each is three bytes, twice over while it is turned."""
QUALITY = 88
FORMATS = ("JPEG", "PNG", "WEBP")


@dataclass(frozen=True, slots=True)
class KeptPhoto:
    """A picture in the folder of photos. is_new: it was not there before."""

    file: Path
    is_new: bool

    @property
    def name(self) -> str:
        """`<sha256>.jpg`."""
        return self.file.name

    def drop(self) -> None:
        """Nothing names it: take it out again, unless it was there before."""
        if self.is_new:
            self.file.unlink(missing_ok=True)


def keep_photo(source: Path, folder: Path) -> KeptPhoto:
    """Put a picture into the folder.

    It is turned upright and written anew, from its pixels alone, so that nothing else of the file goes on
    record. The same picture again is the same file. Raises PhotoRefusedError where it is none, or the folder
    cannot be written.
    """
    data = _pixels(source)
    kept = folder / f"{sha256(data).hexdigest()}.jpg"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        is_new = not kept.is_file()
        if is_new:
            with tempfile.NamedTemporaryFile(dir=folder, delete=False) as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            Path(file.name).chmod(0o644)
            Path(file.name).replace(kept)
            sync_folder(folder)
    except OSError as error:
        raise PhotoRefusedError(
            f"{folder}: the photo cannot be kept there ({error.strerror}); make the folder writable, or give "
            "another in [photos] folder"
        ) from error
    return KeptPhoto(kept, is_new)


def _pixels(source: Path) -> bytes:
    try:
        with Image.open(source, formats=FORMATS) as found:
            if found.width * found.height > PIXELS_MAX:
                most = PIXELS_MAX // 1_000_000
                raise PhotoRefusedError(f"{source}: has more than {most} million pixels; take a smaller one")
            image = ImageOps.exif_transpose(found).convert("RGB")
    except FileNotFoundError:
        raise PhotoRefusedError(f"{source}: there is no such file") from None
    except UnidentifiedImageError:
        raise PhotoRefusedError(f"{source}: is no JPEG, PNG or WebP picture") from None
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise PhotoRefusedError(f"{source}: cannot be read as a picture ({error})") from None
    image.thumbnail((SIDE_MAX, SIDE_MAX))
    written = BytesIO()
    bare = Image.new("RGB", image.size)
    bare.paste(image)
    bare.save(written, "JPEG", quality=QUALITY, optimize=True)
    return written.getvalue()
