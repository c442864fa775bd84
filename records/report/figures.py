"""What was found: figures with uncertainty and limit, what was seen by eye, what is to be known of both."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from contract.lengths import LengthUnit
from contract.result import Check, ItemPart, ObservedCheck, Result, SurfaceCheck, ThicknessCheck
from contract.words import count_of, item_words
from records.report.page import Block, Cell, Items, Lines, Photo, Photos, Section, Table

NAMES = {
    "visual": "By eye, on the engine",
    "rim": "Rim: radial run-out",
    "face": "Face: axial run-out, wobble",
    "visual-bench": "By eye, on the bench",
    "thickness": "Casing: spread of thickness",
    "penetrant": "Cracks, by penetrant",
    "warm-leak": "Leaks, warmed",
}
OUTCOMES = {
    "within": "within the limit",
    "over": "OVER THE LIMIT",
    "unclear": "UNCLEAR",
    "invalid": "INVALID",
    "missing": "MISSING",
    "good": "good",
    "bad": "BAD",
}
SEEN = {"good": "good", "bad": "BAD", "not seen": "NOT SEEN"}
SETTLED = ("within", "good")


def check_table(result: Result, unit: LengthUnit) -> Table:
    """Every check: best estimate with its expanded uncertainty, limit, what was read, outcome."""
    rows = []
    for name, check in result.checks.by_name().items():
        rows.append(_row(name, check, unit))
        if isinstance(check, ThicknessCheck) and check.bulge_mm is not None:
            rows.append(_bulge(check, unit))
    columns = ("Check", f"True figure ± U, {unit.name}", "Limit", "As read", "Outcome")
    return Table(
        "Every check with figure, limit and outcome", columns, tuple(rows), (2.6, 2.3, 0.9, 0.9, 1.6)
    )


def _row(name: str, check: Check, unit: LengthUnit) -> tuple[Cell, ...]:
    outcome = Cell(OUTCOMES[check.outcome], strong=check.outcome not in SETTLED)
    if isinstance(check, ObservedCheck):
        seen = _count(check) if check.items else "–"
        return Cell(NAMES[name]), Cell(seen), Cell("–"), Cell("–"), outcome
    read = check.tir_mm if isinstance(check, SurfaceCheck) else check.spread_mm
    return (
        Cell(NAMES[name]),
        Cell(judged(check, unit)),
        Cell(unit.number(check.limit_mm)),
        Cell(unit.number(read)),
        outcome,
    )


def judged(check: SurfaceCheck | ThicknessCheck, unit: LengthUnit) -> str:
    """The figure that was held against the limit; what is not judged is no figure."""
    best = check.true_tir_mm if isinstance(check, SurfaceCheck) else check.true_spread_mm
    if check.outcome == "invalid":
        return "not judged"
    if best is None or check.u_expanded_mm is None:
        return "–"
    coverage = "" if check.coverage is None else f" ({check.coverage * 100:g} %)"
    return f"{unit.number(best)} ± {unit.number(check.u_expanded_mm)}{coverage}"


def _bulge(check: ThicknessCheck, unit: LengthUnit) -> tuple[Cell, ...]:
    figure = unit.number(check.bulge_mm)
    if check.bulge_u_expanded_mm is not None:
        figure += f" ± {unit.number(check.bulge_u_expanded_mm)}"
    return Cell("Casing: bulge"), Cell(figure), Cell(unit.number(check.bulge_limit_mm)), Cell("–"), Cell("–")


def reasons(result: Result) -> Lines:
    """The verdict's reasons, those of the checks that are good by eye in one line, as there is no more to
    them; then those of checks that are not settled and do not decide it, and what speaks against one that
    is."""
    checks = result.checks.by_name()
    good = [f"{name}: {check.reason}" for name, check in checks.items() if check.outcome == "good"]
    plain = [reason for reason in result.reasons if reason in good]
    more = [
        f"{name}: {check.reason}"
        for name, check in checks.items()
        if check.outcome not in SETTLED and not any(one.startswith(f"{name}:") for one in result.reasons)
    ]
    first = [_as_in_the_table(reason) for reason in result.reasons if reason not in plain]
    joined = ["; ".join(map(_as_in_the_table, plain))] if plain else []
    more += [f"{name}: note: {warning}" for name, check in checks.items() for warning in check.warnings]
    return Lines((*first, *joined, *map(_as_in_the_table, more)))


def short_name(name: str) -> str:
    """A check as the table of all checks calls it, in short."""
    return NAMES[name].partition(":")[0]


def _as_in_the_table(said: str) -> str:
    """What is said of a check, the check called as the table calls it."""
    name, colon, rest = said.partition(":")
    return short_name(name) + colon + rest if name in NAMES else said


def notes(result: Result, unit: LengthUnit) -> Section | None:
    """What was doubted of a check, and what its figure does not hold."""
    lines = tuple(map(_as_in_the_table, _notes(result, unit)))
    return Section("To be known of these figures", (Lines(lines, small=True),)) if lines else None


def _notes(result: Result, unit: LengthUnit) -> Iterator[str]:
    for name, check in result.checks.by_name().items():
        if isinstance(check, SurfaceCheck):
            yield from (f"{name}: doubt: {doubt}" for doubt in check.doubts or ())
            if check.excluded:
                yield f"{name}: not in the uncertainty: {'; '.join(check.excluded)}"
        if isinstance(check, ThicknessCheck) and check.zero_shift_mm is not None:
            yield f"{name}: the micrometer's zero moved by {unit.length(check.zero_shift_mm)}"
        if not isinstance(check, ObservedCheck):
            for part in check.attempts or ():
                why = f": {part.reason}" if part.reason else ""
                yield f"{name}: attempt {part.number} {'counts' if part.counted else 'does not count'}{why}"


def found_bad(result: Result) -> Section | None:
    """What was seen and is bad, to stand by the verdict."""
    rows = tuple(
        (Cell(NAMES[name]), Cell(item_words(item), strong=True), Cell(_said(item)))
        for name, check in _by_eye(result)
        for item in check.items
        if item.seen == "bad"
    )
    columns = ("Check", "What is BAD", "Note")
    return (
        Section("Seen and bad", (Table("Items that are bad", columns, rows, (1.6, 3.8, 3.0)),))
        if rows
        else None
    )


def seen_by_eye(result: Result) -> Section | None:
    """Each check by eye, item by item."""
    checks = tuple(_items(NAMES[name], check) for name, check in _by_eye(result) if check.items)
    return Section("Seen by eye", checks) if checks else None


def _by_eye(result: Result) -> Iterator[tuple[str, ObservedCheck]]:
    for name, check in result.checks.by_name().items():
        if isinstance(check, ObservedCheck):
            yield name, check


def _items(name: str, check: ObservedCheck) -> Items:
    """A row for whatever is not plainly good; the rest in a list."""
    told = [item for item in check.items if item.seen != "good" or _said(item)]
    rows = tuple(
        (Cell(item_words(item)), Cell(SEEN[item.seen], strong=item.seen != "good"), Cell(_said(item)))
        for item in told
    )
    table = Table(f"{name}: items", ("Item", "Seen", "Note"), rows, (3.2, 1.0, 2.0), small=True)
    plain = tuple(item.text or item.item for item in check.items if item not in told)
    return Items(name, _count(check), table if rows else None, plain)


def _count(check: ObservedCheck) -> str:
    bad, good = (sum(item.seen == seen for item in check.items) for seen in ("bad", "good"))
    return f"{good} of {len(check.items)} good" + (f", {bad} bad" if bad else "")


def _said(item: ItemPart) -> str:
    told = []
    if item.time_min is not None:
        told.append(f"{item.time_min:g} min")
    if item.temperature_c is not None:
        told.append(f"{item.temperature_c:g} °C")
    if item.photos:
        told.append(count_of(len(item.photos), "photo"))
    return "; ".join([*told, *([item.note] if item.note else [])])


def photos(result: Result, files: Mapping[str, bytes]) -> Section | None:
    """The pictures of the items, by their names in the document; those that are not at hand are named."""
    shown, lacking = [], []
    for name, check in _by_eye(result):
        for item in check.items:
            for photo in item.photos or ():
                caption = f"{NAMES[name]}: {item.item}" + (f": {photo.note}" if photo.note else "")
                if photo.file in files:
                    shown.append(Photo(files[photo.file], caption))
                else:
                    lacking.append(f"{caption}: not at hand: {photo.file}")
    blocks: list[Block] = [Photos(tuple(shown))] if shown else []
    if lacking:
        blocks.append(Lines(tuple(lacking), small=True))
    return Section("Photos", tuple(blocks)) if blocks else None
