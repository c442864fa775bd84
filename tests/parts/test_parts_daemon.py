"""A bay's own daemon on a workshop's broker, with TLS, by password and by certificate."""

from __future__ import annotations

from pathlib import Path

import pytest

from link.display import connect
from tests.acquire.stand import Stand
from tests.parts.broker import fleet_broker
from tests.ringtrue.test_ringtrue_run import ringtrue

pytestmark = pytest.mark.slow


def mqtt(folder: Path, broker_url: str, ca_file: object, **more: object) -> str:
    lines = {"url": broker_url, "ca_file": ca_file, **more}
    return "\n".join(f'{key} = "{value}"' for key, value in lines.items())


@pytest.mark.parametrize("by_certificate", [False, True], ids=["by password", "by certificate"])
async def test_the_daemon_is_let_in_and_heard(tmp_path: Path, by_certificate: bool) -> None:
    async with fleet_broker(
        tmp_path, ["greywacke/bay-2", "greywacke/bay-1"], by_certificate=by_certificate
    ) as broker:
        for user, is_its_own in (("greywacke/bay-2", True), ("greywacke/bay-1", False)):
            mine = broker.address(user)
            folder = tmp_path / user.replace("/", "-")
            folder.mkdir()
            (folder / "password").write_text(f"{mine.password}\n")
            login: dict[str, object] = {"username": user, "password_file": "password"}
            if by_certificate:
                login = {"certificate": mine.certificate, "key": mine.key}
            config = Stand().config(folder, mqtt(folder, mine.url, mine.ca_file, **login))
            async with (
                connect(broker.address("display")) as display,
                ringtrue("run", "--config", config) as daemon,
            ):
                if is_its_own:
                    await display.subscribe("ringtrue/1/greywacke/bay-2/status")
                    while b"online" not in (await display.next_message()).payload:
                        pass
                else:
                    said = await daemon.until_said("refuses", "ringtrue/1/greywacke/bay-2/status")
                    assert "this user may not publish it" in said
