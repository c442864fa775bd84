from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from ringtrue.cli import main

ROOT = Path(__file__).parents[2]
FIRST, SECOND = (str(ROOT / f"examples/rim-truck-17-{which}.csv") for which in ("first", "second"))
STEP = ("--step-deg", "180")
pytestmark = pytest.mark.slow


def sweep_file(
    path: Path,
    *,
    damper_mm: float = 0.08,
    mounting_mm: float = 0.03,
    turned_deg: float = 0.0,
    covered: float = 370.0,
) -> str:
    """The damper's own offset high at 35 degrees, its mounting's at 200; an order of 2 on the rim."""
    rows = ["angle_deg,value_mm"]
    for i in range(75):
        at = i * covered / 74
        on = at + turned_deg
        value = damper_mm * math.cos(math.radians(on - 35)) + mounting_mm * math.cos(math.radians(at - 200))
        value += 0.02 * math.cos(math.radians(2 * on)) + 0.0007 * math.sin(9.7 * i + turned_deg)
        rows.append(f"{at:.2f},{value:.3f}")
    path.write_text("\n".join(rows) + "\n")
    return str(path)


def test_the_examples_that_ship_show_a_mounting_out_of_true(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["separate", FIRST, SECOND, *STEP]) == 0
    said = capsys.readouterr().out
    assert "whose: mounting\n" in said
    assert "clean and mend the mounting" in said
    assert "before condemning the damper" in said
    # As they were made: 0.045 mm at 170 degrees on the damper, 0.115 mm at 200 degrees under it.
    assert "damper    0.045 mm ± " in said
    assert "mounting  0.114 mm ± " in said
    assert max(len(line) for line in said.splitlines()) < 260


def test_with_json_both_parts_come_with_their_uncertainty(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first, second = sweep_file(tmp_path / "a.csv"), sweep_file(tmp_path / "b.csv", turned_deg=60)
    options = ("--mpe-mm", "0.004", "--angle-u-deg", "0.1", "--seat-u-mm", "0", "--json")
    assert main(["separate", first, second, "--step-deg", "60", *options]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["check"], found["step_deg"], found["whose"]) == ("rim", 60.0, "damper")
    for part, size, high in (("damper", 0.08, 35.0), ("mounting", 0.03, 200.0)):
        got = found[part]
        assert abs(got["amplitude_mm"] - size) < got["u_expanded_mm"] < 0.01
        assert abs(got["high_spot_deg"] - high) < got["high_spot_u_expanded_deg"]
    assert found["uncertainty_factor"] == pytest.approx(2**0.5, abs=1e-4)
    assert (found["step_agrees"], found["step_seen"], found["direction_seen"]) == (True, True, True)
    assert [sweep["file"] for sweep in found["sweeps"]] == [first, second]
    assert [warning.partition(" degrees")[0][-3:] for warning in found["warnings"]] == ["240"]


def test_the_files_exchanged_with_the_step_the_other_way_say_the_same(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first, second = sweep_file(tmp_path / "a.csv"), sweep_file(tmp_path / "b.csv", turned_deg=90)
    main(["separate", first, second, "--step-deg", "90", "--json"])
    main(["separate", second, first, "--step-deg", "270", "--json"])
    one, other = map(json.loads, capsys.readouterr().out.splitlines())
    assert one["whose"] == other["whose"] == "damper"
    for part in ("damper", "mounting"):
        assert other[part]["amplitude_mm"] == pytest.approx(one[part]["amplitude_mm"], abs=2e-4)
    turned = (one["damper"]["high_spot_deg"] - other["damper"]["high_spot_deg"]) % 360
    assert turned == pytest.approx(90.0, abs=0.5)


def test_a_face_says_its_tilt_where_the_radius_is_known(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first, second = sweep_file(tmp_path / "a.csv"), sweep_file(tmp_path / "b.csv", turned_deg=90)
    step = ("--step-deg", "90", "--check", "face")
    assert main(["separate", first, second, *step, "--radius-mm", "150", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    # 0.08 mm at 150 mm: 0.533 mrad (plane geometry).
    assert found["damper"]["tilt_mrad"] == pytest.approx(0.5333, abs=0.01)
    assert main(["separate", first, second, *step, "--radius-mm", "150"]) == 0
    assert ", tilt 0.53" in capsys.readouterr().out
    assert main(["separate", first, second, "--step-deg", "90", "--radius-mm", "150"]) == 2
    assert "--check face with it" in capsys.readouterr().err


def test_the_wrong_step_is_noticed_and_nothing_is_said_of_the_parts(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first, second = sweep_file(tmp_path / "a.csv"), sweep_file(tmp_path / "b.csv", turned_deg=60)
    assert main(["separate", first, second, "--step-deg", "120", "--mpe-mm", "0.004"]) == 1
    said = capsys.readouterr().out
    assert "did not turn by 120 degrees" in said
    assert "note: the higher waves agree with a step of about 60 or 240 degrees" in said
    assert "damper    " not in said


def test_an_unsound_sweep_gives_its_reason_and_no_answer(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    short = sweep_file(tmp_path / "b.csv", turned_deg=180, covered=200)
    assert main(["separate", sweep_file(tmp_path / "a.csv"), short, *STEP]) == 1
    said = capsys.readouterr().out
    assert f"{short}: rim: invalid" in said
    assert "a full turn is needed" in said
    assert "whose: unclear" in said
    assert main(["separate", FIRST, short, *STEP, "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert found["whose"] == "unclear"
    assert "damper" not in found


@pytest.mark.parametrize(
    ("step", "said"),
    [
        (
            "10",
            "at 10 degrees each part is 8.1 times as uncertain as one sweep; move the damper by 30 to 330",
        ),
        ("350", "so small a step tells little"),
        ("0", "'0' is no step above 0 and below 360 degrees"),
        ("360", "is no step above 0 and below 360 degrees"),
        ("half", "'half' is no step above 0"),
        ("nan", "'nan' is no step above 0"),
    ],
)
def test_a_step_that_tells_nothing_is_refused_in_one_line(
    step: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as left:
        main(["separate", FIRST, SECOND, "--step-deg", step])
    assert left.value.code == 2
    assert said in capsys.readouterr().err.splitlines()[-1]


def test_one_sweep_given_twice_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["separate", FIRST, FIRST, *STEP]) == 2
    assert "expected two sweeps, taken apart, found the same readings" in capsys.readouterr().err


def test_a_file_that_cannot_be_read_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["separate", FIRST, str(tmp_path / "none.csv"), *STEP]) == 3
    assert capsys.readouterr().err == (
        f"ringtrue: {tmp_path}/none.csv: expected a readable file, found: No such file or directory\n"
    )
    assert main(["separate", FIRST, SECOND, *STEP, "--check", "face"]) == 3
    assert "rim" in capsys.readouterr().err
