"""A page of the walk as a browser takes it."""

from __future__ import annotations

from typing import Any

from display.walk.walker import Walker


def as_data(walker: Walker, person: str) -> dict[str, Any]:
    """The page as it is now. entry: the field whose text is not what it is for. forgotten: counts up when
    what was typed has served. picture: the item that one may be added to. of: as in Walker. grading: the
    check that is worked out."""
    page, busy = walker.show(), walker.is_busy
    return {
        "name": page.name,
        "title": page.title,
        "cautions": list(page.cautions),
        "says": list(page.says),
        "big": page.big,
        "rows": list(page.rows),
        "fields": [
            {
                "id": field.id,
                "label": field.label,
                "hint": field.hint,
                "number": field.number,
                "value": walker.typed.get(field.id, ""),
                "options": list(field.options),
            }
            for field in page.fields
        ],
        "choices": [
            {
                "key": choice.key,
                "label": choice.label,
                "main": choice.main,
                "off": busy and not choice.away,
                "tells": choice.tells,
            }
            for choice in page.choices
        ],
        "tells": page.tells,
        "rings": page.rings,
        "alarm": walker.alarm,
        "notice": walker.notice,
        "entry": walker.entry,
        "forgotten": walker.forgotten,
        "busy": busy,
        "picture": None if page.picture is None else _picture(*page.picture, walker.place.inspection),
        "check": walker.place.check,
        "inspection": walker.place.inspection,
        "person": person,
        "of": walker.of,
        "grading": walker.grading,
    }


def _picture(check: str, item: str, inspection: str | None) -> dict[str, str | None]:
    return {"check": check, "item": item, "inspection": inspection}
