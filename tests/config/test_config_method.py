from __future__ import annotations

import json
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from config.errors import ConfigError
from config.files import shipped
from config.method import CHECKS, Method
from config.toml import read_toml

TEXT = shipped("methods", "example").read_text()


def data() -> dict[str, Any]:
    return tomllib.loads(TEXT)


def test_the_example_that_ships_has_the_limits_of_common_practice() -> None:
    method = read_toml(shipped("methods", "example"), Method)
    limits = {check: method.limit_mm(check) for check in CHECKS if method.limit_mm(check) is not None}
    assert limits == {"rim": 0.28, "face": 0.28, "thickness": 0.25}
    assert method.thickness.second_radius_in_mm == 25.0
    due = method.intervals
    assert (due.distance_km, due.hours_h, due.months) == (200_000.0, 3_000.0, 12)
    assert TEXT.count("common practice, no source") >= 4


def test_its_inch_and_millimetre_limits_are_the_same_within_half_a_thousandth_of_an_inch() -> None:
    # 1 in = 25.4 mm exactly: international yard and pound agreement, 1959.
    assert round(0.28 / 25.4, 3) == 0.011


def test_the_order_of_places_is_station_by_station_outer_first() -> None:
    order = Method.model_validate(data()).thickness.order
    assert order[:3] == ((0.0, "outer"), (0.0, "inner"), (90.0, "outer"))
    assert len(order) == 8


def test_required_checks_by_scope() -> None:
    method = Method.model_validate(data())
    assert method.required_checks("on-engine") == ("visual", "rim", "face")
    assert method.required_checks("bench") == ("visual-bench", "thickness", "penetrant", "warm-leak")
    assert method.required_checks("both") == CHECKS


def test_a_method_survives_as_data_and_its_hash_is_of_what_it_says() -> None:
    method = Method.model_validate(data())
    again = Method.model_validate(json.loads(json.dumps(method.as_data())))
    assert again == method
    assert again.sha256() == method.sha256()
    commented = Method.model_validate(tomllib.loads("# another comment\n" + TEXT))
    assert commented.sha256() == method.sha256()
    assert Method.model_validate({**data(), "version": "2"}).sha256() != method.sha256()


def changed(*path: str, value: Any) -> Callable[[dict[str, Any]], None]:
    def change(whole: dict[str, Any]) -> None:
        for key in path[:-1]:
            whole = whole[key]
        whole[path[-1]] = value

    return change


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (changed("rim", "limit_mm", value=0.0), "greater than 0"),
        (changed("rim", "limit_mm", value=float("nan")), "greater than 0|finite"),
        (changed("rim", "limit_mm", value="0.28"), "valid number"),
        (changed("rim", "limit_mm", value=True), "valid number"),
        (changed("rim", "sweep", "min_readings", value=7), "greater than or equal to 8"),
        (changed("rim", "colour", value="black"), "Extra inputs"),
        (changed("thickness", "stations_deg", value=[0.0, 0.0, 90.0]), "increase"),
        (changed("thickness", "stations_deg", value=[0.0, 360.0]), "less than 360"),
        (changed("decision", "guard_r", value=1.0), "exactly one of guard_r and probability"),
        (changed("decision", value={"rule": "guarded-both"}), "exactly one of guard_r and probability"),
        (changed("decision", value={"rule": "simple-acceptance", "guard_r": 1.0}), "no guard band"),
        (changed("decision", "coverage", value=0.9999), "less than or equal to 0.999"),
        (changed("intervals", value={}), "at least one of"),
        (changed("intervals", "distance_km", value=2e8), "less than or equal to 10000000"),
        (changed("intervals", "hours_h", value=180_000.0), "less than or equal to 100000"),
        (changed("intervals", "months", value=9_999_999), "less than or equal to 240"),
        (changed("programme", "soon_days", value=10**12), "less than or equal to 36500"),
        (changed("programme", "rate_days", value=10**12), "less than or equal to 36500"),
        (changed("typed", "resolution_mm", value=1e-9), "greater than or equal to 0.000001"),
        (changed("typed", "mpe_mm", value=15.0), "less than or equal to 1"),
        (changed("required", "bench", value=["polish"]), "Input should be"),
        (changed("observed", value={}), "observed.penetrant is missing"),
        (changed("observed", "visual", "item", value=[]), "at least 1"),
        (changed("schema", value="ringtrue/method/2"), "ringtrue/method/1"),
    ],
)
def test_a_mistake_in_a_method_is_found(change: Callable[[dict[str, Any]], None], message: str) -> None:
    wrong = data()
    change(wrong)
    with pytest.raises(ValidationError, match=message):
        Method.model_validate(wrong)


def test_two_items_of_one_name_are_a_mistake() -> None:
    wrong = data()
    wrong["observed"]["visual"]["item"].append({"id": "leak", "text": "again"})
    with pytest.raises(ValidationError, match="id of its own"):
        Method.model_validate(wrong)


def test_mistakes_in_the_file_come_all_at_once_with_their_lines(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(
        TEXT.replace("hours_h = 3000.0", "hours = 3000.0").replace("limit_mm = 0.25", "limit_mm = -1")
    )
    with pytest.raises(ConfigError) as refused:
        read_toml(file, Method)
    lines = str(refused.value).splitlines()
    assert len(lines) == 2
    assert all(line.startswith(f"{file}:") for line in lines)
    assert "thickness.limit_mm" in lines[0]
    assert "expected hours_h, found unknown key hours" in lines[1]


def test_limits_of_a_kind_that_never_hold_are_a_mistake(tmp_path: Path) -> None:
    """Welded ones, with a stricter limit, stood behind all viscous ones."""
    general = '[[damper]]\nfamily = "viscous"\nrim_mm = 0.28\n'
    own = '[[damper]]\nfamily = "viscous"\nconstruction = "welded"\nrim_mm = 0.2\n'
    file = tmp_path / "mine.toml"
    file.write_text(TEXT + own + general)
    assert len(read_toml(file, Method).damper) == 2
    file.write_text(TEXT + general + own)
    with pytest.raises(ConfigError) as refused:
        read_toml(file, Method)
    assert "damper[1]: expected it to stand before that one: the first that fits holds" in str(refused.value)


@pytest.mark.parametrize("limit", [11.0, 28, 280.0])
@pytest.mark.parametrize("check", ["rim", "face", "thickness"])
def test_a_limit_in_another_unit_is_refused(check: str, limit: float) -> None:
    """Thousandths of an inch, hundredths, micrometres: with them everything were within."""
    said = data()
    said[check]["limit_mm"] = limit
    with pytest.raises(ValidationError, match="less than or equal to 5"):
        Method.model_validate(said)
    kind = {"family": "rubber", f"{check}_mm": limit}
    with pytest.raises(ValidationError, match="less than or equal to 5"):
        Method.model_validate({**data(), "damper": [kind]})
