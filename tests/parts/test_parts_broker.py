"""mosquitto as it ships for a workshop: TLS, and a bay that writes only below its own root."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from dataclasses import replace
from pathlib import Path

import pytest

from contract.topics import Topics
from link import bursts, display
from link.address import BrokerAddress
from link.errors import CredentialRefusedError, LinkError, PublishRefusedError
from tests.link.outside import login, speak
from tests.link.test_link_sparkplug import living
from tests.parts.broker import FleetBroker, fleet_broker

pytestmark = pytest.mark.slow

MINE, OTHERS = Topics("greywacke", "bay-2"), Topics("greywacke", "bay-1")
HELLO = b'{"state":"online"}'


@pytest.fixture(params=[False, True], ids=["by password", "by certificate"])
async def broker(request: pytest.FixtureRequest, tmp_path: Path) -> AsyncIterator[FleetBroker]:
    bays = ["greywacke/bay-2", "greywacke/bay-1"]
    async with fleet_broker(tmp_path, bays, by_certificate=request.param, with_sparkplug=True) as running:
        yield running


async def test_a_bay_writes_only_below_its_own_root(broker: FleetBroker) -> None:
    async with bursts.connect(broker.address("greywacke/bay-2")) as bay:
        await bay.publish(MINE.status, HELLO, qos=1, retain=True)
        await bay.publish(MINE.inspection_result("truck-14"), b"{}", qos=1)
        await bay.subscribe(MINE.commands)
        for topic in (
            OTHERS.status, OTHERS.chain, OTHERS.inspection_result("a"), Topics("other", "bay-2").status,
            "ringtrue/1/greywacke/bay-2x/status", "ringtrue/1/greywacke/status", "somewhere/else",
        ):  # fmt: skip
            with pytest.raises(PublishRefusedError, match=f"the broker refuses {topic} .*access list"):
                await bay.publish(topic, HELLO, qos=1)


async def test_what_a_bay_must_not_write_reaches_nobody(broker: FleetBroker) -> None:
    """3.1.1 tells nobody that it was refused: it is, all the same."""
    bay = replace(broker.address("greywacke/bay-2"), protocol=4)
    async with display.connect(broker.address("writer")) as writer, bursts.connect(bay) as other:
        await writer.subscribe("ringtrue/1/+/+/chain")
        await other.publish(OTHERS.chain, HELLO, qos=1)
        await other.publish(MINE.chain, HELLO, qos=1)
        assert (await writer.next_message()).topic == MINE.chain


async def test_displays_and_writers_read_and_write_nothing(broker: FleetBroker) -> None:
    for user in ("display", "writer"):
        async with bursts.connect(broker.address(user)) as reader:
            for topic in (MINE.status, MINE.command("open"), MINE.result, MINE.chain):
                with pytest.raises(PublishRefusedError):
                    await reader.publish(topic, HELLO, qos=1)
            await reader.subscribe("ringtrue/1/+/+/chain")
            async with bursts.connect(broker.address("greywacke/bay-2")) as bay:
                await bay.publish(MINE.chain, user.encode(), qos=1)
            assert (await reader.next_message()).payload == user.encode()


async def test_the_office_hands_a_method_to_all_bays_of_a_site(broker: FleetBroker) -> None:
    async with (
        bursts.connect(broker.address("office")) as office,
        bursts.connect(broker.address("greywacke/bay-2")) as bay,
    ):
        await office.publish(MINE.issued_method, b"signed", qos=1, retain=True)
        await bay.subscribe(MINE.issued_method)
        assert (await bay.next_message()).payload == b"signed"
        with pytest.raises(PublishRefusedError):
            await bay.publish(MINE.issued_method, b"mine", qos=1, retain=True)
        with pytest.raises(PublishRefusedError):
            await office.publish(MINE.result, b"{}", qos=1)


async def test_a_bay_speaks_sparkplug_and_no_other_in_its_name(broker: FleetBroker) -> None:
    bay = broker.address("greywacke/bay-2")
    async with bursts.connect(broker.address("display")) as host:
        await host.subscribe("spBv1.0/quarry/#")
        async with living(bay):
            assert (await host.next_message()).topic == "spBv1.0/quarry/NBIRTH/bay-2"
            async with bursts.connect(broker.address("greywacke/bay-1")) as other:
                for kind in ("NBIRTH", "NDEATH", "NCMD"):
                    with pytest.raises(PublishRefusedError):
                        await other.publish(f"spBv1.0/quarry/{kind}/bay-2", b"", qos=1)
        assert (await host.next_message()).topic == "spBv1.0/quarry/NDEATH/bay-2"


async def test_writers_of_one_group_share_what_comes(broker: FleetBroker) -> None:
    async with (
        bursts.connect(broker.address("writer")) as one,
        bursts.connect(broker.address("writer")) as two,
        bursts.connect(broker.address("greywacke/bay-2")) as bay,
    ):
        for writer in (one, two):
            await writer.subscribe("$share/writers/ringtrue/1/+/+/inspection/+/result")
        for number in range(10):
            await bay.publish(MINE.inspection_result(f"i-{number}"), b"{}", qos=1)
        topics = [(await writer.next_message()).topic for writer in (one, two) for _ in range(5)]
    assert len(set(topics)) == 10


async def test_a_stranger_is_told_in_one_line(broker: FleetBroker, tmp_path: Path) -> None:
    address = broker.address("greywacke/bay-2")
    if address.certificate is None:
        with pytest.raises(CredentialRefusedError, match=r"refused user greywacke/bay-9: check"):
            async with bursts.connect(replace(address, username="greywacke/bay-9")):
                pass
        with pytest.raises(CredentialRefusedError, match=r"refused user \(none\)"):
            async with bursts.connect(replace(address, username=None, password=None)):
                pass
    else:
        with pytest.raises(LinkError, match=r"^mqtts://127.0.0.1:\d+ .*wants a certificate"):
            async with bursts.connect(replace(address, certificate=None, key=None)):
                pass
        with pytest.raises(LinkError, match=r"certificate .* and its key .* cannot be used"):
            async with bursts.connect(replace(address, key=tmp_path / "none")):
                pass
    with pytest.raises(LinkError, match="speaks TLS, not plain MQTT"):
        async with bursts.connect(replace(address, tls=False, certificate=None)):
            pass


async def test_clients_that_are_not_ours_are_let_in(broker: FleetBroker) -> None:
    bay, display = broker.address("greywacke/bay-2"), broker.address("display")
    assert await speak(bay, MINE.status, HELLO, "-r", *_pair(bay)) == 0
    hearing = await asyncio.create_subprocess_exec(
        "mosquitto_sub", *login(display), *_pair(display), "-t", "ringtrue/1/#", "-C", "1", "-W", "30",
        stdout=asyncio.subprocess.PIPE,
    )  # fmt: skip
    heard, _ = await hearing.communicate()
    assert heard.strip() == HELLO


def _pair(address: BrokerAddress) -> list[str]:
    if address.certificate is None:
        return []
    return ["--cert", str(address.certificate), "--key", str(address.key)]
