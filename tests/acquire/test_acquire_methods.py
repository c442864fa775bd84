"""A method that an office hands out, and the daemon that takes it up, over a real broker."""

from __future__ import annotations

import json
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from acquire.journal.events import Opened
from acquire.journal.reader import JournalReader
from acquire.methods import keep, kept_file
from chain.issued import issued
from config.bay import BayFiles, read_bay
from config.method import Method
from contract.document import decode
from contract.topics import Topics
from ringtrue.in_force import NotVouchedForError, method_handed_out
from tests.acquire.running_bay import Running
from tests.acquire.stand import Stand
from tests.chain.signers import signer
from tests.link.outside import Ear, ear, speak

pytestmark = pytest.mark.slow
TOPICS = Topics("greywacke", "bay-2")
OFFICE, FORGER = signer("office"), signer("forger")
TIME = "2026-11-26T08:00:00.000Z"


@pytest.fixture
def files(tmp_path: Path) -> BayFiles:
    config = Stand().config(tmp_path, 'broker = "mosquitto"\nport = 0')
    trusting = f'file = "example"\nauthority = "{OFFICE.public_key}"'
    config.write_text(config.read_text().replace('file = "example"', trusting))
    return read_bay(config, {})


def method(files: BayFiles, version: str, limit_mm: float) -> Method:
    rim = files.method.rim.model_copy(update={"limit_mm": limit_mm})
    return files.method.model_copy(update={"version": version, "rim": rim})


def issue(files: BayFiles, number: int, version: str, limit_mm: float = 0.25, by: Any = OFFICE) -> str:
    made = method(files, version, limit_mm)
    return issued(by, made, "greywacke", number, TIME, rollback=False).decode()


async def hand_out(running: Running, message: str) -> None:
    await speak(running.address, TOPICS.issued_method, message, "-r")


async def said_of_method(heard: Ear, *parts: str) -> dict[str, Any]:
    """The first message of the bay's topic that has all of these in it."""

    def found() -> list[str]:
        return [told for told in heard.payloads("bay-2/method") if all(part in told for part in parts)]

    await heard.until(lambda _: bool(found()))
    return dict(json.loads(found()[0]))


async def ask(running: Running, heard: Ear, name: str, **arguments: Any) -> dict[str, Any]:
    request = f"{name}-{arguments.get('inspection', 'x')}-{len(heard.payloads('reply'))}"
    command = {"id": request, "operator": "R. Example", **arguments}
    await speak(running.address, TOPICS.command(name), json.dumps(command))
    return dict(json.loads(await heard.until_payload(f"reply/{request}")))


async def until_told(heard: Ear, ending: str, what: str) -> None:
    await heard.until(lambda _: any(what in told for told in heard.payloads(ending)))


async def begin(running: Running, heard: Ear, inspection: str) -> dict[str, Any]:
    return await ask(running, heard, "open", inspection=inspection, engine="e", damper="d", scope="bench")


def opened(files: BayFiles) -> dict[str, str]:
    """Inspection to the version that it was opened with."""
    with closing(JournalReader(files.settings.journal.path)) as reader:
        events = [event for name in reader.inspections() for event in reader.read(name)]
    return {event.inspection: event.method["version"] for event in events if isinstance(event, Opened)}


def graded(files: BayFiles, inspection: str) -> set[str]:
    with closing(JournalReader(files.settings.journal.path)) as reader:
        found = [decode(one.document) for one in reader.results()]
    return {one.method.version for one in found if one.inspection == inspection}


async def test_an_open_inspection_keeps_its_method_over_a_restart_and_the_next_has_the_new(
    files: BayFiles,
) -> None:
    running = Running(files)
    async with running.up(), ear(running.address) as heard:
        assert (await said_of_method(heard, '"in_force"'))["in_force"]["version"] == "1"
        await begin(running, heard, "i-1")
        await hand_out(running, issue(files, 1, "2", 0.5))
        told = await said_of_method(heard, '"waiting"')
        assert (told["in_force"]["version"], told["waiting"]["version"]) == ("1", "2")
        assert told["waiting"]["number"] == 1
    async with running.up(), ear(running.address) as heard:
        told = await said_of_method(heard, '"waiting"')
        assert (told["in_force"]["version"], told["waiting"]["version"]) == ("1", "2")
        await ask(running, heard, "close", inspection="i-1")
        after = await said_of_method(heard, '"in_force":{"id":"example","version":"2"')
        assert after["in_force"]["since"] == told["waiting"]["since"]
        assert (await begin(running, heard, "i-2"))["ok"]
        await ask(running, heard, "abandon", inspection="i-2")
        await heard.until(lambda said: any("i-2/result" in topic for topic, _, _ in said))
    assert opened(files) == {"i-1": "1", "i-2": "2"}
    assert (graded(files, "i-1"), graded(files, "i-2")) == ({"1"}, {"2"})


async def test_what_was_taken_up_is_there_after_a_start_with_the_topic_cleared(
    files: BayFiles,
) -> None:
    running = Running(files)
    async with running.up(), ear(running.address) as heard:
        await hand_out(running, issue(files, 3, "2"))
        await said_of_method(heard, '"number":3')
        await hand_out(running, "")
    async with running.up(), ear(running.address) as heard:
        assert (await said_of_method(heard, '"in_force"'))["in_force"]["number"] == 3
        assert (await begin(running, heard, "i-1"))["ok"]
    assert opened(files) == {"i-1": "2"}


async def test_what_is_forged_old_or_broken_is_said_and_changes_nothing(files: BayFiles) -> None:
    running = Running(files)
    good = issue(files, 4, "3")
    async with running.up(), ear(running.address) as heard:
        await hand_out(running, good)
        await said_of_method(heard, '"number":4')
        for message, why in (
            (issue(files, 9, "9", 4.0, by=FORGER), "not signed by the key"),
            (issue(files, 3, "2", 4.0), "number is 3, and 4 was taken up already"),
            (good.replace('"limit_mm":0.25', '"limit_mm":9.5'), "signature does not hold"),
            ("{}", "not signed by the key"),
            (issue(files, 5, "2", 4.0), "version 2 is not higher than 3"),
        ):
            await hand_out(running, message)
            told = await said_of_method(heard, why)
            assert (told["in_force"]["version"], told["in_force"]["number"]) == ("3", 4)
            await until_told(heard, "/status", why)
        await hand_out(running, good)  # the office puts it right
        await heard.until(lambda _: heard.payloads("/status")[-1] == '{"state":"online"}')
        await begin(running, heard, "i-1")
    assert opened(files) == {"i-1": "3"}


@pytest.mark.parametrize(
    "spoil",
    [
        lambda path, files: path.write_bytes(b"half of it"),
        lambda path, files: keep(path, issue(files, 9, "9", 4.0, by=FORGER).encode(), TIME),
        lambda path, files: path.write_text(path.read_text().replace("0.25", "9.25")),
    ],
    ids=["damaged", "another key's", "altered"],
)
async def test_where_what_was_taken_up_cannot_be_vouched_for_no_inspection_begins(
    files: BayFiles, spoil: Any
) -> None:
    """Its own file may have the looser limit."""
    path = kept_file(files.settings.journal.path)
    path.parent.mkdir(parents=True, exist_ok=True)
    keep(path, issue(files, 4, "3").encode(), TIME)
    spoil(path, files)
    running = Running(files)
    async with running.up(), ear(running.address) as heard:
        reply = await begin(running, heard, "i-1")
        assert reply["error"]["code"] == "no-method"
        assert "cannot be vouched for" in reply["error"]["message"]
        await until_told(heard, "/status", "cannot be vouched for")
        await hand_out(running, issue(files, 5, "4"))
        await said_of_method(heard, '"number":5')
        assert (await begin(running, heard, "i-2"))["ok"]
    assert opened(files) == {"i-2": "4"}


async def test_a_bay_put_back_from_a_copy_goes_by_no_issue_below_the_least(files: BayFiles) -> None:
    """The copy holds one that was signed, and is looser than today's."""
    least = files.settings.method.model_copy(update={"least": 5})
    files = replace(files, settings=files.settings.model_copy(update={"method": least}))
    path = kept_file(files.settings.journal.path)
    path.parent.mkdir(parents=True, exist_ok=True)
    keep(path, issue(files, 4, "3", 0.5).encode(), TIME)
    with pytest.raises(NotVouchedForError, match="least is 5"):
        method_handed_out(files.settings)
    running = Running(files)
    async with running.up(), ear(running.address) as heard:
        reply = await begin(running, heard, "i-1")
        assert reply["error"]["code"] == "no-method"
        assert "number is 4, and [method] least is 5" in reply["error"]["message"]
        await hand_out(running, issue(files, 5, "4"))
        await said_of_method(heard, '"number":5')
        assert (await begin(running, heard, "i-2"))["ok"]
    assert opened(files) == {"i-2": "4"}


async def test_a_disk_that_is_full_leaves_the_old_one_in_force_and_says_so(
    files: BayFiles, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("acquire.methods.keep", full)
    running = Running(files)
    async with running.up(), ear(running.address) as heard:
        await hand_out(running, issue(files, 1, "2"))
        told = await said_of_method(heard, "No space left")
        assert told["in_force"]["version"] == "1"


async def test_a_bay_without_an_authority_takes_nothing_and_says_nothing(files: BayFiles) -> None:
    alone = files.settings.method.model_copy(update={"authority": None})
    files = replace(files, settings=files.settings.model_copy(update={"method": alone}))
    running = Running(files)
    async with running.up(), ear(running.address) as heard:
        await hand_out(running, issue(files, 1, "2", 4.0))
        assert (await begin(running, heard, "i-1"))["ok"]
        assert heard.payloads("bay-2/method") == []
    assert opened(files) == {"i-1": "1"}
