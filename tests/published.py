"""docs/schemas/, made from the contract's models.

    .venv-test/bin/python -m tests.published          # writes them anew

`tests/contract/test_contract_published.py` fails where they differ, or where the contract is another and its
version is not.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

from contract.published import DOCUMENTS, VERSION, asyncapi, schemas
from tests.published_page import page

FOLDER = Path(__file__).parents[1] / "docs" / "schemas"
VERSIONS = FOLDER / "versions.json"
PAGE = FOLDER / "README.md"


def files() -> dict[str, str]:
    """Each file's text by its name."""
    made = {f"{name}.json": schema for name, schema in schemas().items()} | {"asyncapi.json": asyncapi()}
    return {name: json.dumps(data, ensure_ascii=False, indent=1) + "\n" for name, data in made.items()}


def fingerprint() -> str:
    """Of the contract whatever it is called: another one has another. Descriptions do not count."""
    data = _bare([asyncapi()["components"], [model.model_json_schema() for model in DOCUMENTS.values()]])
    return hashlib.sha256(json.dumps(data, sort_keys=True).encode()).hexdigest()


def _bare(value: Any) -> Any:
    if isinstance(value, dict):
        told = ("description", "summary", "title")
        return {key: _bare(one) for key, one in value.items() if key not in told or not isinstance(one, str)}
    return [_bare(one) for one in value] if isinstance(value, list) else value


def versions() -> dict[str, str]:
    """The fingerprint of every version so far."""
    found: dict[str, str] = json.loads(VERSIONS.read_text())
    return found


def write() -> None:
    """All of them anew; the version's fingerprint where it has none yet."""
    FOLDER.mkdir(exist_ok=True)
    for name, text in files().items():
        (FOLDER / name).write_text(text)
    PAGE.write_text(page())
    known = versions() if VERSIONS.exists() else {}
    known.setdefault(VERSION, fingerprint())
    VERSIONS.write_text(json.dumps(known, indent=1) + "\n")


if __name__ == "__main__":
    write()
