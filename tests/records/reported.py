"""Result documents to be reported: of an invented haul truck, and what else a document may hold."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

METHOD = Path(__file__).parents[2] / "config/methods/example.toml"

RIM: dict[str, Any] = {
    "outcome": "within",
    "reason": "true TIR 0.186 mm ± 0.008 mm (95 %) is within the limit of 0.28 mm (chance of being over: "
    "below 0.1 %; rule: guarded acceptance and rejection, 95 % sure; look 1 asks for 97 %)",
    "limit_mm": 0.28,
    "tir_mm": 0.19,
    "true_tir_mm": 0.186,
    "u_expanded_mm": 0.008,
    "coverage": 0.95,
    "p_over": 0.0001,
    "harmonics": [
        {"order": 1, "amplitude_mm": 0.09, "phase_deg": 41.2},
        {"order": 2, "amplitude_mm": 0.004, "phase_deg": 12.0},
    ],
    "eccentricity_mm": 0.09,
    "high_spot_deg": 41.2,
    "covered_deg": 365.1,
    "readings": 812,
    "gauge": {"id": "indicator-1", "resolution_mm": 0.001, "mpe_mm": 0.004, "calibration_due": "2027-06-01"},
}
FACE: dict[str, Any] = {
    **RIM,
    "reason": RIM["reason"].replace("0.186", "0.121"),
    "tir_mm": 0.124,
    "true_tir_mm": 0.121,
    "harmonics": [{"order": 1, "amplitude_mm": 0.06, "phase_deg": 212.0}],
    "high_spot_deg": 212.0,
    "tilt_mrad": 0.4,
    "excluded": ["end float that moves with the crank: one indicator cannot prove it"],
}
THICKNESS: dict[str, Any] = {
    "outcome": "within",
    "reason": "true spread 0.187 mm ± 0.045 mm (95 %) is within the limit of 0.25 mm",
    "limit_mm": 0.25,
    "spread_mm": 0.19,
    "true_spread_mm": 0.187,
    "u_expanded_mm": 0.045,
    "coverage": 0.95,
    "stations": [
        {"station_deg": 0.0, "outer_mm": 40.27, "inner_mm": 40.25, "taper_mm": 0.02},
        {"station_deg": 90.0, "outer_mm": 40.18, "inner_mm": 40.19, "taper_mm": -0.01},
        {"station_deg": 180.0, "outer_mm": 40.08, "inner_mm": 40.11, "taper_mm": -0.03},
        {"station_deg": 270.0, "outer_mm": 40.16, "inner_mm": 40.17, "taper_mm": -0.01},
    ],
    "wedge_mm": 0.167,
    "wedge_deg": 2.0,
    "readings": 8,
    "gauge": {"id": "micrometer-1", "resolution_mm": 0.001, "mpe_mm": 0.002, "calibration_due": "2026-03-01"},
}
VISUAL: dict[str, Any] = {
    "outcome": "good",
    "reason": "all 3 items seen and good",
    "items": [
        {"item": "leak", "seen": "good", "text": "No silicone fluid on or below the damper"},
        {"item": "dents", "seen": "good", "text": "No dents or tool marks in the casing"},
        {"item": "paint", "seen": "good", "text": "Paint neither blistered nor discoloured", "note": "dusty"},
    ],
}
RESULT: dict[str, Any] = {
    "schema": "ringtrue/result/1",
    "inspection": "truck-14-november",
    "revision": 6,
    "state": "signed",
    "site": "greywacke",
    "bay": "bay-2",
    "scope": "on-engine",
    "engine": {"serial": "GQ-E-2207", "distance_km": 184200.0, "hours_h": 11870.0},
    "damper": {"serial": "GQ-D-0815", "construction": "rolled"},
    "work_order": "GQ-W-3391",
    "opened": "2026-11-26T04:58:16.123Z",
    "closed": "2026-11-26T05:14:02.500Z",
    "signed": "2026-11-26T05:20:41.000Z",
    "signed_by": "R. Example",
    "method": {"id": "example", "version": "1", "sha256": "83589050" * 8},
    "checks": {"visual": VISUAL, "rim": RIM, "face": FACE},
    "verdict": "keep",
    "reasons": [
        "visual: all 3 items seen and good",
        f"rim: {RIM['reason']}",
        f"face: {FACE['reason']}",
    ],
    "next_due": {"distance_km": 384200.0, "hours_h": 14870.0, "date": "2027-11-26"},
    "software": "ringtrue 0.1.0",
    "readings_sha256": "daf55f26" * 8,
}


def a_document(**changed: Any) -> bytes:
    """RESULT with other values at its top level; None takes one out."""
    data = {key: value for key, value in {**RESULT, **changed}.items() if value is not None}
    return json.dumps(data, ensure_ascii=False, separators=(",", ":")).encode()


def unsigned(state: str, **changed: Any) -> bytes:
    """Open, closed or abandoned."""
    closed = RESULT["closed"] if state == "closed" else None
    return a_document(**{"state": state, "closed": closed, "signed": None, "signed_by": None, **changed})


def replaced(**changed: Any) -> bytes:
    """A rim over its limit, a damper that leaks, and every reason for it; on the engine and on the bench."""
    rim = {**RIM, "outcome": "over", "true_tir_mm": 0.342, "tir_mm": 0.345, "p_over": 0.9999,
           "harmonics": [{"order": 1, "amplitude_mm": 0.168, "phase_deg": 131.0}], "high_spot_deg": 131.0,
           "features": [{"angle_deg": 300.0, "width_deg": 20.0, "height_mm": -0.05}],
           "warnings": ["the calibration of indicator-1 was due on 2026-06-01"],
           "attempts": [{"number": 1, "counted": False, "reason": "the plunger did not follow"},
                        {"number": 2, "counted": True, "tir_mm": 0.345}]}  # fmt: skip
    visual = {**VISUAL, "outcome": "bad", "items": [
        {**VISUAL["items"][0], "seen": "bad", "note": "fluid on the lower half, tacky, no smell of oil"},
        VISUAL["items"][1], {**VISUAL["items"][2], "seen": "not seen"}]}  # fmt: skip
    checks = {"visual": visual, "rim": rim, "face": {"outcome": "missing", "reason": "not done yet",
              "limit_mm": 0.28}, "thickness": THICKNESS}  # fmt: skip
    reasons = [f"rim: reason {n}: true TIR 0.342 mm ± 0.008 mm (95 %) is over the limit of 0.28 mm; clean "
               "and check the mounting, refit, and measure again before condemning the damper"
               for n in range(1, 25)]  # fmt: skip
    return a_document(
        **{"scope": "both", "verdict": "replace", "checks": checks, "reasons": reasons, "next_due": None,
           **changed}
    )  # fmt: skip


def bare() -> bytes:
    """Opened, and nothing done nor told."""
    missing = {"outcome": "missing", "reason": "not done yet", "limit_mm": 0.28}
    seen = {"outcome": "missing", "reason": "not looked at yet"}
    return unsigned(
        "open", work_order=None, engine={"serial": "GQ-E-2207"}, damper={"serial": "GQ-D-0815"},
        checks={"visual": seen, "rim": missing, "face": missing}, verdict="incomplete", next_due=None,
        reasons=["visual: not looked at yet", "rim: not done yet", "face: not done yet"],
    )  # fmt: skip


def whole(**changed: Any) -> bytes:
    """On the engine and on the bench: every item of the example method seen and good, all figures within."""
    observed = tomllib.loads(METHOD.read_text(encoding="utf-8"))["observed"]
    open_to = "(the method states no allowance)"
    excluded = ["a base or a temperature that moves and comes back within the turn, slowly or by small slips",
                f"a crank that shifts in its main bearings {open_to}",
                f"temperature over the sweep {open_to}",
                f"the gauge's hysteresis on reversal, beyond its permissible error {open_to}"]  # fmt: skip
    rough = ["the readings follow no form of few waves: a notched, lobed or dented surface, or noise that "
             "runs on; the uncertainty was widened"]  # fmt: skip
    checks = {name: _all_good(check["item"]) for name, check in observed.items()} | {
        "rim": {**RIM, "excluded": excluded, "warnings": rough},
        "face": {**FACE, "excluded": [*excluded, *FACE["excluded"]]},
        "thickness": {**THICKNESS, "zero_shift_mm": 0.001},
    }
    reasons = [f"{name}: {check['reason']}" for name, check in checks.items()]
    return a_document(**{"inspection": "20261126-060000-1a2b3c", "scope": "both", "checks": checks,
                         "reasons": reasons, **changed})  # fmt: skip


def _all_good(items: list[dict[str, Any]]) -> dict[str, Any]:
    seen = [
        {"item": item["id"], "text": item["text"], "seen": "good"}
        | ({item["figure"]: item["least"]} if "figure" in item else {})
        for item in items
    ]
    return {"outcome": "good", "reason": f"all {len(seen)} items seen and good", "items": seen}


LONG = "GQ-D-" + "0123456789" * 12


def foreign(**changed: Any) -> bytes:
    """Names of other scripts, a direction that is turned round, and a serial that no column holds."""
    return a_document(
        **{"engine": {"serial": LONG, "hours_h": 11870.4},
           "damper": {"serial": LONG + "-ß", "construction": "rolled"},
           "site": "карьер-7", "signed_by": "Ζωή Παπαδοπούλου 漢字 \u202eelpmaxE",
           "work_order": "عمل-3391 ünï ✓ 🚚", **changed}
    )  # fmt: skip


def photographed(*files: str) -> dict[str, Any]:
    """`visual` with photos of its first item."""
    photos = [{"file": file, "note": "below the joint"} for file in files]
    return {**VISUAL, "items": [{**VISUAL["items"][0], "photos": photos}, *VISUAL["items"][1:]]}
