"""All texts that displays say, read from what is written: Python, JavaScript and HTML."""

from __future__ import annotations

import ast
import re
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any, get_args

from contract import terms

ROOT = Path(__file__).parents[2]
PAGES = ROOT / "display/pages"
SOURCES = sorted([*(ROOT / "display").rglob("*.py"), *(ROOT / "ringtrue/inspecting").rglob("*.py")])

TERMS = {
    *(
        word
        for kind in (terms.Scope, terms.SweptName, terms.MicrometerAt, terms.Seen)
        for word in get_args(kind)
    ),
    *(word for kind in (terms.Family, terms.Construction, terms.Outcome) for word in get_args(kind)),
    *(word for kind in (terms.Verdict, terms.State, terms.PublicState) for word in get_args(kind)),
    terms.TYPED,
}
"""Words of the contract: displays say them as they come out of a message."""

_SAID_IN_JS = re.compile(r"""(?<![\w.$])t\(\s*(?:"((?:[^"\\]|\\.)*)"|'((?:[^'\\]|\\.)*)')""")


def names_of(text: str) -> set[str]:
    """The {names} of a text."""
    return set(re.findall(r"\{(\w+)\}", text))


@cache
def calls() -> list[tuple[str, ast.Call]]:
    """Each say(), count() of Words and Text(), and where it is."""
    return [
        (f"{path.relative_to(ROOT)}:{node.lineno}", node)
        for path in SOURCES
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Call) and _name(node) in ("say", "count", "Text") and node.args
    ]


def _name(call: ast.Call) -> str | None:
    return getattr(call.func, "id", None) or getattr(call.func, "attr", None)


def text_in(call: ast.Call) -> tuple[str, ...]:
    """The texts that a call says; none where another place says which."""
    last = call.args[-1]
    if not isinstance(last, ast.Constant) or not isinstance(last.value, str):
        return ()
    if _name(call) != "count":
        return (last.value,)
    return (f"{{n}} {last.value}", f"{{n}} {last.value}s") if len(call.args) == 2 else ()


def in_python() -> set[str]:
    return {text for _, call in calls() for text in text_in(call)}


def in_javascript() -> set[str]:
    sources = [path.read_text() for path in (PAGES / "js").rglob("*.js")]
    return {text for source in sources for text in said_in_javascript(source)}


def said_in_javascript(source: str) -> set[str]:
    """What t("…") says there."""
    return {re.sub(r"\\(.)", r"\1", double or single) for double, single in _SAID_IN_JS.findall(source)}


def in_html() -> set[str]:
    return {text for path in PAGES.glob("*.html") for text in said_in_html(path.read_text())}


def said_in_html(source: str) -> set[str]:
    """What elements with `data-t` hold, or what it says itself: as js/words.js looks it up."""
    reader = _Marked()
    reader.feed(source)
    return reader.texts


class _Marked(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.texts: set[str] = set()
        self._in: str | None = None
        self._text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, Any]]) -> None:
        told = dict(attrs)
        if told.get("data-t"):
            self.texts.add(told["data-t"])
        elif "data-t" in told:
            self._in, self._text = tag, ""

    def handle_data(self, data: str) -> None:
        if self._in is not None:
            self._text += data

    def handle_endtag(self, tag: str) -> None:
        if tag == self._in:
            self.texts.add(self._text.strip())
            self._in = None


def all_texts() -> set[str]:
    """Every text that must be in the catalogue, and the only ones."""
    return in_python() | in_javascript() | in_html() | TERMS
