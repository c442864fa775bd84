"""Photos beside the record: upright, from their pixels alone, named for their hash."""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path

import pytest
from PIL import ExifTags, Image

from records.errors import PhotoRefusedError
from records.photos import SIDE_MAX, keep_photo


def picture(path: Path, size: tuple[int, int] = (60, 40)) -> Path:
    """With what cameras add: who made it, where, and which way it was held (a quarter turn)."""
    image = Image.new("RGB", size, "white")
    image.paste("red", (0, 0, size[0] // 2, size[1]))
    exif = Image.Exif()
    exif[ExifTags.Base.Make] = "a maker"
    exif[ExifTags.Base.Orientation] = 6
    exif.get_ifd(ExifTags.IFD.GPSInfo)[ExifTags.GPS.GPSLatitudeRef] = "N"
    image.save(path, exif=exif)
    return path


def test_nothing_of_the_camera_goes_on_record(tmp_path: Path) -> None:
    source = picture(tmp_path / "leak.jpg")
    assert b"a maker" in source.read_bytes()
    name = keep_photo(source, tmp_path / "photos").name
    data = (tmp_path / "photos" / name).read_bytes()
    assert name == sha256(data).hexdigest() + ".jpg"
    assert b"a maker" not in data
    with Image.open(tmp_path / "photos" / name) as kept:
        assert not kept.getexif()
        assert "exif" not in kept.info
        assert kept.size == (40, 60)
        left_of_before, right_of_before = kept.getpixel((20, 10)), kept.getpixel((20, 50))
    # It is there, or the test fails.
    assert left_of_before[1] < 60 < right_of_before[1]  # type: ignore[index]


def test_the_same_again_is_one_file_and_a_large_one_is_made_smaller(tmp_path: Path) -> None:
    source = picture(tmp_path / "large.png", (3000, 1500))
    names = {keep_photo(source, tmp_path / "photos").name for _ in range(2)}
    (kept,) = (tmp_path / "photos").iterdir()
    assert names == {kept.name}
    with Image.open(kept) as image:
        assert max(image.size) == SIDE_MAX


def test_what_is_no_picture_is_refused_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "notes.jpg").write_text("no picture")
    (tmp_path / "half.jpg").write_bytes(picture(tmp_path / "whole.jpg", (600, 400)).read_bytes()[:1500])
    (tmp_path / "in-the-way").touch()
    for source, folder, words in (
        ("notes.jpg", "photos", "is no JPEG, PNG or WebP picture"),
        ("half.jpg", "photos", "cannot be read as a picture"),
        ("absent.jpg", "photos", "there is no such file"),
        ("whole.jpg", "in-the-way", "cannot be kept there"),
    ):
        with pytest.raises(PhotoRefusedError, match=words) as refused:
            keep_photo(tmp_path / source, tmp_path / folder)
        assert "\n" not in str(refused.value)
    assert not (tmp_path / "photos").exists()
