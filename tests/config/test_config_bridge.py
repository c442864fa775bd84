"""A bay's bridge to a fleet's brokers, as it is configured."""

from __future__ import annotations

from pathlib import Path

import pytest

from config.errors import ConfigError
from config.settings import BaySettings
from link.bridge import bridge_lines
from tests.config.test_config_settings import GOOD, mistakes, read

THREE = 'addresses = ["mqtts://a:8883", "mqtts://b", "mqtts://[::1]:8884"]\n'
BRIDGE = f'[bridge]\n{THREE}ca_file = "ca.crt"\ncertificate = "bay-2.crt"\nkey = "bay-2.key"\n'


def lay_files(folder: Path) -> None:
    for name in ("ca.crt", "bay-2.crt", "bay-2.key"):
        (folder / name).touch()
    (folder / "password").write_text("a secret\n")


def test_a_bay_hands_on_what_a_fleet_keeps_and_takes_a_method_and_one_command(tmp_path: Path) -> None:
    settings = read(GOOD + BRIDGE, tmp_path)
    lay_files(tmp_path)
    lines = bridge_lines(settings.bridge, settings.bay).splitlines()
    root = "ringtrue/1/greywacke/bay-2/"
    topics = [line.split()[1:] for line in lines if line.startswith("topic")]
    site = "ringtrue/1/greywacke/"
    assert topics == [
        *(
            [part, "out", "1", root, root]
            for part in ("inspection/+/result", "chain", "checkpoint", "status")
        ),
        ["method", "in", "0", site, site],
        ["command/resend", "in", "0", root, root],
    ]
    (addresses,) = (line.split()[1:] for line in lines if line.startswith("addresses"))
    assert sorted(addresses) == ["::1:8884", "a:8883", "b:8883"]
    assert f"bridge_cafile {tmp_path}/ca.crt" in lines
    assert f"bridge_certfile {tmp_path}/bay-2.crt" in lines
    assert f"bridge_keyfile {tmp_path}/bay-2.key" in lines
    assert "remote_clientid ringtrue-greywacke-bay-2" in lines
    assert not any("$" in line for line in lines)


def test_bays_begin_with_different_nodes(tmp_path: Path) -> None:
    bridge = read(GOOD + BRIDGE, tmp_path).bridge
    lay_files(tmp_path)
    first = [
        next(
            line.split()[1]
            for line in bridge_lines(bridge, BaySettings(site="quarry", name=f"bay-{n}")).splitlines()
            if line.startswith("addresses")
        )
        for n in range(300)
    ]
    assert all(60 < first.count(address) < 140 for address in ("a:8883", "b:8883", "::1:8884"))


def test_with_a_password_and_without_a_bridge(tmp_path: Path) -> None:
    login = 'username = "greywacke/bay-2"\npassword_file = "password"\n'
    settings = read(f'{GOOD}[bridge]\naddresses = ["mqtt://a"]\n{login}', tmp_path)
    lay_files(tmp_path)
    lines = bridge_lines(settings.bridge, settings.bay).splitlines()
    assert lines[-2:] == ["remote_username greywacke/bay-2", "remote_password a secret"]
    bare = read(GOOD, tmp_path)
    assert bridge_lines(bare.bridge, bare.bay) == ""


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    settings = read(GOOD + BRIDGE, tmp_path)
    with pytest.raises(ConfigError, match=r"bridge.ca_file"):
        bridge_lines(settings.bridge, settings.bay)


@pytest.mark.parametrize("name", ["bay.2", "bay*", ">", "bäy", "*"])
def test_a_name_that_a_cluster_reads_otherwise_is_refused_where_there_is_a_bridge(
    tmp_path: Path, name: str
) -> None:
    named = GOOD.replace('name = "bay-2"', f'name = "{name}"')
    assert read(named, tmp_path).bay.name == name
    assert mistakes(named + BRIDGE, tmp_path) == [(3, "bay.name")]
    assert mistakes(GOOD.replace("greywacke", name) + BRIDGE, tmp_path) == [(2, "bay.site")]


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ('addresses = ["http://a"]', "bridge.addresses"),
        ('addresses = ["mqtts://a/x"]', "bridge.addresses"),
        ('addresses = ["mqtts://a b"]', "bridge.addresses"),
        ('addresses = ["mqtts://a", "mqtt://b"]', "bridge.addresses"),
        ('addresses = ["mqtts://a"]', "bridge.ca_file"),
        ('addresses = ["mqtt://a"]\nca_file = "ca.crt"', "bridge.addresses"),
        (f'{THREE}ca_file = "ca.crt"\nkey = "key"', "bridge.certificate"),
        (f'{THREE}ca_file = "ca.crt"\nusername = "a"', "bridge.username"),
        (f'{THREE}ca_file = "ca.crt"\n[mqtt]\nurl = "mqtt://elsewhere"', "bridge.addresses"),
        (f'{THREE}ca_file = "ca.crt"\n[mqtt]\nbroker = "iotcore"', "bridge.addresses"),
    ],
)
def test_what_cannot_work_is_said_before_it_starts(tmp_path: Path, text: str, key: str) -> None:
    assert [named for _, named in mistakes(f"{GOOD}[bridge]\n{text}\n", tmp_path)] == [key]


def test_a_certificate_of_our_own_goes_with_its_key_and_tls(tmp_path: Path) -> None:
    pair = 'certificate = "a.crt"\nkey = "a.key"\n'
    assert read(f'{GOOD}[mqtt]\nurl = "mqtts://a"\n{pair}', tmp_path).mqtt.certificate == tmp_path / "a.crt"
    assert mistakes(f'{GOOD}[mqtt]\nurl = "mqtts://a"\nkey = "a.key"\n', tmp_path) == [
        (21, "mqtt.certificate")
    ]
    assert [key for _, key in mistakes(f'{GOOD}[mqtt]\nurl = "mqtt://a"\n{pair}', tmp_path)] == ["mqtt.url"]
