"""The records of an invented quarry's haul fleet: engines, dampers, years of services, one journalled.

Seeded: the same figures each time.
"""

from __future__ import annotations

import math
from contextlib import closing
from datetime import date, timedelta
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from random import Random
from typing import Any

from PIL import Image

from contract.document import encode
from contract.header import EnginePart
from contract.result import (
    FeaturePart,
    HarmonicPart,
    ItemPart,
    ObservedCheck,
    PhotoPart,
    Result,
    StationPart,
    SurfaceCheck,
    ThicknessCheck,
)
from contract.terms import MeasuredOutcome
from records.store import Store
from ringtrue.cli import main
from tests.grading.services import rim, service, thickness
from tests.ringtrue.inspected_bay import inspect

TODAY = date(2026, 11, 26)
JOURNALLED = "truck-14-november"
REGISTER = {
    "engines": """\
engine,fleet,rating_kw
GQ-E-2207,truck 14,522
GQ-E-2211,truck 15,522
GQ-E-2214,truck 16,522
GQ-E-1986,water truck 3,280
GQ-E-2301,loader 2,400
GQ-E-2302,grader 1,280
""",
    "dampers": """\
damper,family,construction
GQ-D-0815,viscous,welded
GQ-D-0822,viscous,welded
GQ-D-0830,viscous,welded
GQ-D-0417,viscous,rolled
GQ-D-0901,viscous,welded
GQ-D-0902,viscous,rolled
""",
    "fittings": """\
engine,date,damper
GQ-E-2207,2021-11-01,GQ-D-0815
GQ-E-2211,2022-03-16,GQ-D-0822
GQ-E-2214,2026-09-07,GQ-D-0830
GQ-E-1986,2022-11-03,GQ-D-0417
GQ-E-2301,2023-06-05,GQ-D-0901
GQ-E-2302,2024-02-12,GQ-D-0902
""",
    "readings": """\
engine,date,distance_km,hours_h
GQ-E-2207,2026-09-07,175100,16400
GQ-E-2207,2026-11-16,181400,17100
GQ-E-2211,2026-09-07,76600,6960
GQ-E-2211,2026-11-02,78700,7150
GQ-E-2214,2026-09-07,61000,4020
GQ-E-2214,2026-11-02,65200,4370
GQ-E-1986,2026-11-02,57300,6040
GQ-E-2301,2026-06-08,,6900
GQ-E-2301,2026-11-02,,7450
GQ-E-2302,2026-11-02,31300,2240
GQ-E-2302,2026-09-07,29900,2110
""",
    "events": """\
engine,date,trigger,note
GQ-E-2302,2026-11-20,impact,reversed into the tip wall
""",
}


def surface(figure_mm: float, high_deg: float, outcome: MeasuredOutcome = "within") -> SurfaceCheck:
    """A rim or a face that stands eccentric by half its figure, with a little of its second order."""
    change: dict[str, Any] = {
        "high_spot_deg": high_deg,
        "harmonics": (
            HarmonicPart(order=1, amplitude_mm=round(0.46 * figure_mm, 6), phase_deg=high_deg),
            HarmonicPart(order=2, amplitude_mm=round(0.05 * figure_mm, 6), phase_deg=(high_deg / 2) % 180),
        ),
    }
    return rim(figure_mm, outcome).model_copy(update=change)


def casing(figure_mm: float, random: Random) -> ThicknessCheck:
    """A casing measured at four stations."""
    stations = []
    for station in (0, 90, 180, 270):
        outer = round(32.1 + figure_mm * (0.5 + 0.5 * math.cos(math.radians(station - 90))), 3)
        inner = round(outer - 0.02 - 0.01 * random.random(), 3)
        stations.append(
            StationPart(station_deg=station, outer_mm=outer, inner_mm=inner, taper_mm=round(outer - inner, 3))
        )
    return thickness(figure_mm).model_copy(update={"stations": tuple(stations)})


def seen(*photos: PhotoPart, bad: str | None = None) -> ObservedCheck:
    """What the eye found."""
    item = ItemPart(item="dents", seen="bad" if bad else "good", note=bad, photos=photos or None)
    return ObservedCheck(outcome="bad" if bad else "good", reason=bad or "as it should be", items=(item,))


def photo(folder: Path) -> PhotoPart:
    """A picture in the folder of photos."""
    written = BytesIO()
    Image.new("RGB", (320, 240), (96, 108, 116)).save(written, "JPEG")
    data = written.getvalue()
    name = f"{sha256(data).hexdigest()}.jpg"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_bytes(data)
    return PhotoPart(file=name, note="front, from below")


def services(folder: Path) -> list[Result]:
    """Every inspection but the journalled one."""
    random = Random(815)
    found = []
    for year, figure in enumerate((0.098, 0.117, 0.131, 0.158, 0.171)):
        found.append(
            _year("GQ-E-2207", "GQ-D-0815", 2021 + year, 2_800.0 * year + 1_500, figure, 28.0, random)
        )
    for year, figure in enumerate((0.148, 0.181, 0.207, 0.238)):
        found.append(
            _year("GQ-E-2211", "GQ-D-0822", 2023 + year, 1_700.0 * year + 2_000, figure, 201.0, random)
        )
    found.append(_year("GQ-E-2214", "GQ-D-0417", 2021, 900.0, 0.17, 310.0, random))
    for year, figure in enumerate((0.19, 0.22, 0.26)):
        found.append(
            _year("GQ-E-1986", "GQ-D-0417", 2023 + year, 1_500.0 * year + 1_000, figure, 318.0, random)
        )
    hit = service(
        "GQ-E-1986-2026-11-02", "2026-11-02", engine="GQ-E-1986", damper="GQ-D-0417", hours_h=6_040.0,
        due=False,
        rim=surface(0.331, 322.0, "over").model_copy(
            update={"features": (FeaturePart(angle_deg=322, width_deg=24, height_mm=0.06),)}
        ),
        face=surface(0.144, 40.0),
    )  # fmt: skip
    seen_hit = seen(photo(folder), bad="a dent at the rim, left of the timing mark")
    found.append(hit.model_copy(update={"checks": hit.checks.model_copy(update={"visual": seen_hit})}))
    found.append(
        service(
            "GQ-E-2301-2026-06-08",
            "2026-06-08",
            engine="GQ-E-2301",
            damper="GQ-D-0901",
            hours_h=6_900.0,
            verdict="measure-again",
            next_due=None,
            rim=surface(0.276, 120.0, "unclear"),
            face=rim(None, "invalid"),
        )
    )
    found.append(_year("GQ-E-2302", "GQ-D-0902", 2025, 1_900.0, 0.06, 77.0, random))
    found.append(_year("GQ-E-9001", "GQ-D-0950", 2026, 400.0, 0.05, 12.0, random))
    return found


def _year(
    engine: str, damper: str, year: int, hours_h: float, figure: float, high_deg: float, random: Random
) -> Result:
    day = date(year, 11, 1) - timedelta(days=random.randrange(20))
    made = service(
        f"{engine}-{day}", day.isoformat(), engine=engine, damper=damper, hours_h=hours_h,
        distance_km=round(hours_h * 11.0), rim=surface(figure, (high_deg + random.uniform(-6, 6)) % 360),
        face=surface(round(0.6 * figure, 3), (high_deg + 90) % 360),
        thickness=casing(round(0.4 * figure, 3), random),
    )  # fmt: skip
    return made.model_copy(
        update={"checks": made.checks.model_copy(update={"visual": seen()}), "signed_by": "R. Example"}
    )


def quarry(folder: Path) -> None:
    """A bay of the quarry in this folder, its register imported, its results on record."""
    engine = EnginePart(serial="GQ-E-2207", hours_h=17_000.0, distance_km=180_500.0)
    inspect(folder, engine, ("rim", "face"))
    for name, text in REGISTER.items():
        (folder / f"{name}.csv").write_text(text)
        where = ("--config", str(folder / "ringtrue.toml"))
        assert main(["register", "import", name, str(folder / f"{name}.csv"), *where]) == 0
    with closing(Store(f"sqlite:///{folder}/var/records.db")) as store:
        for result in services(folder / "var/photos"):
            store.put(encode(result))
