"""Each fault met by a careful trainee, and by careless ones, on virtual time."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from config.bay import BayFiles
from ringtrue.demo_folder import DemoFolder
from ringtrue.practice.practising import Task, limits_of
from ringtrue.practice.review import Review
from simulators.specimen import FAULTS, Fault, Specimen, drawn
from tests.practice.trainees import (
    BENCH,
    CARELESS,
    END,
    ENGINE,
    FACE,
    FIGURES,
    PENETRANT,
    RIM,
    THICKNESS,
    WARM,
    careful,
    seen,
)
from tests.practice.workroom import practised

pytestmark = pytest.mark.slow

ORDINARY: tuple[Fault, ...] = ("swollen", "leaking", "cracked", "plunger-off")
"""Of which a far one is another thing to find than a near one."""


@pytest.fixture
def files(tmp_path: Path) -> BayFiles:
    return DemoFolder(tmp_path / "files", "practice", has_micrometer=True).prepare()


def specimen_of(task: Task, files: BayFiles) -> Specimen:
    return drawn(task.text, limits_of(files), task.fault, far=task.is_far)


def reviewed(tmp_path: Path, task: Task, acts: list[str]) -> Review:
    review = practised(tmp_path / "room", task, acts).review
    assert review is not None
    return review


@pytest.mark.parametrize(
    ("fault", "far"), [*((fault, False) for fault in FAULTS), *((fault, True) for fault in ORDINARY)]
)
def test_a_careful_trainee_comes_to_the_right_verdict(
    fault: Fault, far: bool, files: BayFiles, tmp_path: Path
) -> None:
    task = Task(1, fault, is_far=far)
    review = reviewed(tmp_path, task, careful(specimen_of(task, files)))
    assert (review.said, review.procedure, review.missed) == (review.wanted, (), ())
    assert all(item.is_right for item in review.items)
    assert all(figure.is_inside for figure in review.figures)
    assert review.mark.points == 100


def short(check: str, specimen: Specimen) -> list[str]:
    """All of a check good, whatever was to be seen."""
    return [f"record {check} good", *FIGURES.get(check, [])]


def with_one_part(
    specimen: Specimen,
    *,
    record: Callable[[str, Specimen], list[str]] = seen,
    engine: list[str] | None = None,
    turns: list[str] | None = None,
    penetrant: list[str] | None = None,
    warm: list[str] | None = None,
) -> list[str]:
    """The whole procedure, done well but for the parts that are given."""
    return [
        *(ENGINE if engine is None else engine), *record("visual", specimen),
        *([*RIM, *FACE] if turns is None else turns),
        *BENCH, *record("visual-bench", specimen), *THICKNESS,
        *(PENETRANT if penetrant is None else penetrant), *record("penetrant", specimen),
        *(WARM if warm is None else warm), *record("warm-leak", specimen), *END,
    ]  # fmt: skip


def test_a_crack_missed_by_a_short_dwell_is_a_wrong_keep_and_fails_whatever_else(
    files: BayFiles, tmp_path: Path
) -> None:
    task = Task(1, "cracked", is_far=False)
    hasty = ["penetrant", "wait 1", "rinse", "developer", "wait 2", "look"]
    review = reviewed(tmp_path, task, with_one_part(specimen_of(task, files), record=short, penetrant=hasty))
    assert (review.said, review.wanted) == ("keep", "replace")
    assert (review.mark.points, review.mark.is_passed) == (0, False)
    assert "kept on its engine" in review.mark.failed_by
    (where,) = specimen_of(task, files).bad["penetrant"]
    assert any(f"{where} was cracked" in line for line in review.missed), review.missed
    assert any("penetrant-dwell was recorded as 20 min" in line for line in review.procedure)


def test_what_was_seen_and_not_understood_is_told_once_more(files: BayFiles, tmp_path: Path) -> None:
    task = Task(1, "dented", is_far=False)
    acts = ["open", "wipe", "look", "record visual good"]
    review = reviewed(tmp_path, task, acts)
    (told,) = review.missed
    assert told.startswith("visual: dents was to be seen: On the rim a hollow")


def test_a_warm_test_cut_short_shows_no_leak_and_is_told(files: BayFiles, tmp_path: Path) -> None:
    task = Task(1, "leaking", is_far=False)
    review = reviewed(
        tmp_path,
        task,
        with_one_part(specimen_of(task, files), record=short, warm=["warm 120", "wait 5", "look"]),
    )
    assert review.said == "keep"
    assert not review.mark.is_passed
    (where,) = specimen_of(task, files).bad["warm-leak"]
    assert any(f"{where} leaked when hot" in line for line in review.missed)
    assert any("warmed to 120 °C; 93 °C is the most" in line for line in review.procedure)


def test_a_base_that_slipped_is_told_with_its_place_and_the_closure(files: BayFiles, tmp_path: Path) -> None:
    task = Task(1, "slipping-base", is_far=True)
    specimen = specimen_of(task, files)
    review = reviewed(tmp_path, task, with_one_part(specimen))
    assert (review.said, review.wanted) == ("measure-again", "keep")
    (told,) = review.missed
    place_deg = (-2.0 + specimen.slips_deg[0]) % 360.0
    assert f"the base slipped at {place_deg:.0f}°" in told
    assert "did not close (" in told
    assert next(figure.outcome for figure in review.figures if figure.check == "rim") == "invalid"


def test_a_plunger_that_did_not_touch_is_told(files: BayFiles, tmp_path: Path) -> None:
    task = Task(1, "plunger-off", is_far=True)
    review = reviewed(tmp_path, task, with_one_part(specimen_of(task, files)))
    assert review.said == "measure-again"
    (told,) = review.missed
    assert "did not touch" in told


def test_a_crank_that_nobody_held_is_told_with_its_float(files: BayFiles, tmp_path: Path) -> None:
    task = Task(1, "end-float", is_far=True)
    specimen = specimen_of(task, files)
    loose = [*RIM, *(act for act in FACE if act != "hold")]
    review = reviewed(tmp_path, task, with_one_part(specimen, turns=loose))
    assert review.said != "keep"
    (told,) = review.missed
    assert f"end float of {specimen.damper.end_float_mm:.2f} mm" in told
    assert "the face was swept with the crank not held to one end of its float" in review.procedure


@pytest.mark.parametrize(
    ("fault", "told"), [("dirty-mounting", "dirt lay between"), ("bolts-loose", "hung on loose bolts")]
)
def test_who_condemns_before_the_mounting_is_mended_condemns_a_sound_damper(
    fault: Fault, told: str, files: BayFiles, tmp_path: Path
) -> None:
    task = Task(1, fault, is_far=True)
    review = reviewed(tmp_path, task, with_one_part(specimen_of(task, files)))
    assert (review.said, review.wanted) == ("replace", "keep")
    assert review.mark.failed_by == "a damper that may stay was condemned"
    assert any(told in line for line in review.missed)
    assert any("before the mounting was cleaned" in line for line in review.procedure)


def test_oil_hides_a_leak_until_it_is_wiped_off(files: BayFiles, tmp_path: Path) -> None:
    task = next(
        task
        for seed in range(1, 40)
        if specimen_of(task := Task(seed, "leaking", is_far=True), files).is_oily
    )
    room = practised(tmp_path / "room", task, ["open", "look leak", "record leak good", "wipe", "look leak"])
    first, second = (line for line in room.said if line.startswith("leak "))
    assert "cannot be seen" in first
    assert "stringy film" in second
    assert room.review is not None
    assert "visual: recorded without a look that told it: leak" in room.review.procedure


def test_a_careless_trainee_is_told_all_of_it(files: BayFiles, tmp_path: Path) -> None:
    review = reviewed(tmp_path, Task(1, "none", is_far=True), CARELESS)
    for told in (
        "barred before the engine was locked out",
        "crank not held",
        "over paint and dirt",
        "penetrant-dwell was recorded as 20 min; the workshop's clock had 1",
        "soak was recorded as 60 min; the workshop's clock had 5",
        "visual-bench: recorded without a look",
    ):
        assert any(told in line for line in review.procedure), told
    assert not review.mark.is_passed


def test_a_turn_that_is_not_completed_and_a_crank_barred_back_are_told(
    files: BayFiles, tmp_path: Path
) -> None:
    acts = ["lockout", "open", "set rim", "begin rim", "bar 200", "bar back 30", "end"]
    review = reviewed(tmp_path, Task(1, "none", is_far=True), acts)
    assert any("barred back within the sweep of the rim" in line for line in review.procedure)
    assert any("the turn was not completed" in line for line in review.procedure)


def test_the_example_script_is_the_whole_procedure(tmp_path: Path) -> None:
    shown = Path(__file__).parents[2] / "examples" / "practice.txt"
    review = reviewed(tmp_path, Task(3, "none"), shown.read_text().splitlines())
    assert (review.said, review.undone, review.procedure, review.missed) == ("keep", (), (), ())
    assert review.mark.points == 100
