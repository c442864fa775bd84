from __future__ import annotations

import json
import math
import re
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from ringtrue.cli import main
from ringtrue.commands.grade import _how_to_start

ROOT = Path(__file__).parents[2]
RIM = str(ROOT / "examples/rim-truck-14.csv")
THICKNESS = str(ROOT / "examples/thickness-damper-0815.csv")


def sweep_file(path: Path, eccentricity_mm: float, *, readings: int = 121, covered_deg: float = 366.0) -> str:
    rows = [
        f"{i * covered_deg / (readings - 1):.3f},"
        f"{eccentricity_mm * math.cos(math.radians(i * covered_deg / (readings - 1))):.3f}"
        for i in range(readings)
    ]
    path.write_text("angle_deg,value_mm\n" + "\n".join(rows) + "\n")
    return str(path)


def test_the_examples_that_ship_are_within(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["grade", RIM, "--check", "rim"]) == 0
    rim = capsys.readouterr().out
    assert rim.startswith(f"{RIM}: rim: within\n  true TIR ")
    assert "a dial shows 0.190 mm: 26 readings over 375.0°" in rim
    assert main(["grade", THICKNESS, "--check", "thickness"]) == 0
    # Highest 0.27, lowest 0.08, spread 0.19 mm: common practice, no source.
    assert "spread as read 0.19 mm: 8 readings" in capsys.readouterr().out


def test_in_inches_every_length_that_is_printed_is(capsys: pytest.CaptureFixture[str]) -> None:
    """1 in = 25.4 mm exactly (ISO 31-1)."""
    for file, check in ((RIM, "rim"), (THICKNESS, "thickness")):
        assert main(["grade", file, "--check", check, "--unit", "in"]) == 0
        assert " mm" not in capsys.readouterr().out
    assert main(["grade", RIM, "--check", "rim", "--json", "--unit", "in"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert main(["grade", RIM, "--check", "rim", "--unit", "in"]) == 0
    said = capsys.readouterr().out
    figures = (found["true_tir_mm"], found["u_expanded_mm"], found["limit_mm"], found["tir_mm"])
    figure, u, limit, raw = (f"{mm / 25.4:.4f} in" for mm in figures)
    assert f"true TIR {figure} ± {u} (95 %) is within the limit of {limit} " in said
    assert f"a dial shows {raw}" in said


@pytest.mark.slow
def test_limits_are_of_the_kind_of_damper_and_the_strictest_where_it_is_not_told(tmp_path: Path) -> None:
    method = tmp_path / "kinds.toml"
    example = (ROOT / "config/methods/example.toml").read_text()
    method.write_text(f'{example}\n[[damper]]\nconstruction = "welded"\nrim_mm = 0.12\n')
    asked = ["grade", RIM, "--check", "rim", "--method", str(method)]
    assert main(asked) == 1
    assert main([*asked, "--construction", "welded"]) == 1
    assert main([*asked, "--construction", "rolled"]) == 0


def test_with_json_each_file_is_one_line_with_the_check_object(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["grade", RIM, RIM, "--check", "rim", "--json"]) == 0
    first, second = capsys.readouterr().out.splitlines()
    assert first == second
    check = json.loads(first)
    assert check["file"] == RIM
    assert (check["outcome"], check["limit_mm"], check["tir_mm"]) == ("within", 0.28, 0.19)
    assert {"true_tir_mm", "u_expanded_mm", "p_over", "harmonics", "budget", "closure_mm"} <= set(check)
    assert check["gauge"] == {"id": "typed", "resolution_mm": 0.01, "mpe_mm": 0.015}


@pytest.mark.parametrize(
    ("eccentricity", "covered", "code", "outcome"),
    [
        (0.09, 366.0, 0, "within"),
        (0.14, 366.0, 1, "unclear"),
        (0.17, 366.0, 1, "over"),
        (0.09, 200.0, 1, "invalid"),
    ],
)
def test_the_exit_code_is_the_answer(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    eccentricity: float,
    covered: float,
    code: int,
    outcome: str,
) -> None:
    file = sweep_file(tmp_path / "s.csv", eccentricity, covered_deg=covered)
    assert main(["grade", file, "--check", "face", "--json"]) == code
    assert json.loads(capsys.readouterr().out)["outcome"] == outcome


def test_a_file_that_cannot_be_read_is_one_line_and_stops_no_other(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_text("angle_deg,value_mm\n0,0,12\n")
    over = sweep_file(tmp_path / "over.csv", 0.17)
    files = [str(bad), str(tmp_path / "none.csv"), str(tmp_path), over, RIM]
    assert main(["grade", *files, "--check", "rim", "--json"]) == 3
    out, err = capsys.readouterr()
    assert [json.loads(line)["outcome"] for line in out.splitlines()] == ["over", "within"]
    first, second, third = err.splitlines()
    assert first.startswith(f"ringtrue: {bad}:2: row: expected 2 cells: angle_deg,value_mm")
    assert second == (
        f"ringtrue: {tmp_path}/none.csv: expected a readable file, found: No such file or directory"
    )
    assert third == f"ringtrue: {tmp_path}: expected a readable file, found: Is a directory"


def test_what_the_gauge_and_the_angle_are_worth_comes_from_the_options(
    capsys: pytest.CaptureFixture[str],
) -> None:
    def graded(*options: str) -> dict[str, float]:
        main(["grade", RIM, "--check", "rim", "--json", *options])
        check: dict[str, float] = json.loads(capsys.readouterr().out)
        return check

    plain, fine = graded(), graded("--mpe-mm", "0.004")
    assert fine["u_expanded_mm"] < plain["u_expanded_mm"]
    assert graded("--mpe-mm", "0.05")["u_expanded_mm"] > plain["u_expanded_mm"]
    assert graded("--angle-u-deg", "20")["budget"] != plain["budget"]
    # It is there, or the test fails.
    assert graded("--resolution-mm", "0.02")["gauge"]["resolution_mm"] == 0.02  # type: ignore[index]


def test_readings_finer_than_the_method_s_plain_dial_are_taken_as_they_are(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["grade", sweep_file(tmp_path / "s.csv", 0.09), "--check", "rim", "--json"])
    assert json.loads(capsys.readouterr().out)["gauge"]["resolution_mm"] == 0.001


def test_another_method_rules(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = (ROOT / "config/methods/example.toml").read_text()
    mine = tmp_path / "mine.toml"
    mine.write_text(text.replace("limit_mm = 0.28 ", "limit_mm = 0.15 "))
    assert main(["grade", RIM, "--check", "rim", "--method", str(mine)]) == 1
    assert "is over the limit of 0.15 mm" in capsys.readouterr().out
    mine.write_text(text.replace("limit_mm = 0.28 ", "limit_mm = -1 "))
    assert main(["grade", RIM, "--check", "rim", "--method", str(mine)]) == 3
    assert "rim.limit_mm" in capsys.readouterr().err
    assert main(["grade", RIM, "--check", "rim", "--method", "none"]) == 3
    assert capsys.readouterr().err.startswith("ringtrue: --method none: ")


@pytest.mark.parametrize(
    "arguments",
    [
        [RIM],
        ["--check", "rim"],
        [RIM, "--check", "visual"],
        [RIM, "--check", "rim", "--resolution-mm", "0"],
        [RIM, "--check", "rim", "--mpe-mm", "-1"],
        [RIM, "--check", "rim", "--mpe-mm", "nan"],
        [RIM, "--check", "rim", "--mpe-mm", "1e300"],
        [RIM, "--check", "rim", "--angle-u-deg", "inf"],
        [RIM, "--check", "rim", "--angle-u-deg", "two"],
    ],
)
def test_wrong_usage_leaves_with_two(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(["grade", *arguments])
    assert left.value.code == 2
    (told,) = capsys.readouterr().err.splitlines()  # one line, and where to read on
    assert told.startswith("ringtrue grade: ")
    assert told.endswith("; ringtrue grade --help tells more")


@pytest.mark.slow
def test_many_files_are_shared_out_and_answered_in_order(tmp_path: Path) -> None:
    """Sweeps of 1 000 readings, one JSON line each, as a user starts it; how fast, the benchmark says."""
    files = [sweep_file(tmp_path / f"s{i:03}.csv", 0.05 + i * 0.0005, readings=1000) for i in range(40)]
    call = [sys.executable, "-m", "ringtrue", "grade", *files, "--check", "rim", "--json"]
    done = subprocess.run(call, cwd=ROOT, capture_output=True, text=True, check=False, timeout=60)
    assert (done.returncode, done.stderr) == (0, "")
    graded = [json.loads(line) for line in done.stdout.splitlines()]
    assert [check["file"] for check in graded] == files
    assert graded[30]["eccentricity_mm"] == pytest.approx(0.065, abs=0.0002)
    alone = subprocess.run(
        [*call[:4], files[30], *call[-3:]], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert json.loads(alone.stdout) == graded[30]


def test_where_other_threads_run_no_copy_is_made_of_them() -> None:
    """A thread's locks would be held for ever in the copy."""
    done = threading.Event()
    other = threading.Thread(target=done.wait)
    other.start()
    try:
        assert _how_to_start() == "spawn"
    finally:
        done.set()
        other.join()


def test_without_shared_memory_many_files_are_graded_in_one_process(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("ringtrue.commands.grade.ProcessPoolExecutor", refuse)
    monkeypatch.setattr("os.sched_getaffinity", lambda _: {0, 1})
    assert main(["grade", *[RIM] * 16, "--check", "rim"]) == 0
    assert capsys.readouterr().out.count("rim: within") == 16


def test_a_face_says_on_what_radius_it_counted(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "face.csv"
    rows = "".join(f"{deg},{0.03 * math.sin(math.radians(deg)):.3f}\n" for deg in range(0, 376, 15))
    file.write_text("angle_deg,value_mm\n" + rows)
    said = []
    for more in ([], ["--radius-mm", "75"]):
        assert main(["grade", str(file), "--check", "face", "--resolution-mm", "0.001", *more]) == 0
        said.append(capsys.readouterr().out)
    assert "face read at 150 mm from the axis (the method's radius)" in said[0]
    assert "face read at 75 mm from the axis, as given" in said[1]
    tilts = [float(re.findall(r"tilt ([\d.]+) mrad", text)[0]) for text in said]
    assert tilts[1] == pytest.approx(2 * tilts[0], rel=0.01)
    assert main(["grade", str(file), "--check", "rim", "--radius-mm", "75"]) == 2
    assert "--radius-mm: expected --check face with it" in capsys.readouterr().err


def test_a_file_that_says_what_it_holds_is_graded_as_nothing_else(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "rim.csv"
    file.write_text("# check: rim\nangle_deg,value_mm\n0,0.1\n")
    assert main(["grade", str(file), "--check", "face"]) == 3
    assert "expected readings of face, as --check says, found rim" in capsys.readouterr().err
