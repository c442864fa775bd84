from __future__ import annotations

import signal
from pathlib import Path

import pytest

from ringtrue.cli import main
from tests.acquire.stand import Stand
from tests.ringtrue.inspected_bay import CONFIG
from tests.ringtrue.test_ringtrue_run import ringtrue as running


@pytest.mark.slow
async def test_the_daemon_starts_the_node_on_its_own_broker(tmp_path: Path) -> None:
    file = Stand().config(tmp_path, "port = 0")
    file.write_text(f'{file.read_text()}[sparkplug]\ngroup = "quarry"\n')
    async with running("run", "--config", file) as daemon:
        born = await daemon.until_said("born")
        assert "group=quarry" in born
        daemon.process.send_signal(signal.SIGTERM)
        assert await daemon.ended() == 0


@pytest.mark.parametrize(
    ("section", "said"),
    [
        ("", "sparkplug.group"),
        ('[sparkplug]\ngroup = "quarry/east"', "a short name without / + #"),
        ('[sparkplug]\ngroup = "quarry"\nnod = "bay-2"', "nod"),
    ],
)
def test_a_wrong_configuration_is_said(
    section: str,
    said: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    (tmp_path / "ringtrue.toml").write_text(f"{CONFIG}\n{section}\n")
    monkeypatch.chdir(tmp_path)
    assert main(["sparkplug"]) == 3
    assert said in capsys.readouterr().err
