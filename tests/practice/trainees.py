"""Trainees: what a careful one does about each fault, and what a careless one leaves out."""

from __future__ import annotations

from simulators.specimen import Specimen

ENGINE = ["lockout", "open", "wipe", "look"]
RIM = ["set rim", "begin rim", "bar"]
FACE = ["hold", "set face", "begin face", "bar"]
BENCH = ["off", "look"]
THICKNESS = ["wipe", "begin thickness", "micrometer all", "begin thickness", "micrometer all"]
PENETRANT = ["penetrant", "wait 20", "rinse", "developer", "wait 15", "look"]
WARM = ["warm 90", "wait 60", "look"]
FIGURES = {
    "penetrant": [
        "record penetrant temperature good 21",
        "record penetrant-dwell good 20",
        "record developer-dwell good 15",
    ],
    "warm-leak": ["record warm-leak temperature good 90", "record soak good 60"],
}
END = ["close", "sign R. Example sure"]


def seen(check: str, specimen: Specimen) -> list[str]:
    """Each item recorded as it is."""
    bad = sorted(specimen.bad.get(check, ()))
    return [
        *(f"record {check} {item} bad" for item in bad),
        f"record {check} rest good",
        *FIGURES.get(check, []),
    ]


def careful(specimen: Specimen) -> list[str]:
    """The whole procedure, with eyes that see what is told, and the remedy where there is one."""
    fault, mend = specimen.fault, list[str]()
    again = {"slipping-base": ["set rim", "begin rim", "bar"]}.get(fault, [])
    if fault == "plunger-off":
        again = [act for surface in specimen.plunger for act in (f"set {surface}", f"begin {surface}", "bar")]
        if "face" not in specimen.plunger:
            again = ["release", *again]
    if fault == "bolts-loose":
        mend = ["tighten", "look bolts"]
    turns = [*RIM, *FACE, *again]
    if fault == "dirty-mounting":
        turns = [*RIM, *FACE, "clean", "abandon", "open", "look", *seen("visual", specimen), *RIM, *FACE]
    if fault in ("eccentric", "tilted"):
        turns = [*RIM, *FACE, "clean", "abandon", "open", "look", *seen("visual", specimen), *RIM, *FACE]
    return [
        *ENGINE, *mend, *seen("visual", specimen), *turns,
        *BENCH, *seen("visual-bench", specimen), *THICKNESS,
        *PENETRANT, *seen("penetrant", specimen), *WARM, *seen("warm-leak", specimen), *END,
    ]  # fmt: skip


CARELESS = [
    "open", "look", "record visual good",
    *RIM, "set face", "begin face", "bar",
    "off", "record visual-bench good", "begin thickness", "micrometer all",
    "penetrant", "wait 1", "rinse", "developer", "wait 2", "look", "record penetrant good",
    *FIGURES["penetrant"],
    "warm 60", "wait 5", "look", "record warm-leak good", *FIGURES["warm-leak"],
    *END,
]  # fmt: skip
"""Looks without seeing, holds nothing, shortens every dwell and writes down the full one."""
