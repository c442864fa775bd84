"""One machine that runs: its USB ports and keyboard as somebody has them in hand, and commands run in it."""

from __future__ import annotations

import asyncio
import json
import shutil
import signal
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from link.children import start_child
from tests.link.outside import free_port
from tests.machine.boot import HERE, Boot, program

# Seconds: emulated, beside other work, a boot has taken 20.
BOOT_MAX_S = 300.0
COMMAND_MAX_S = 600.0
# The least that our packages run on. Of a newer one the emulator does wide vectors wrong (QEMU 7.2: numpy
# sorts by AVX2, and dies of it), and slowly.
PROCESSOR = "Nehalem"
# While it works its time goes by what it has done, 2 to the power of it ns for each instruction, about as
# much as one takes here: whatever else runs on this machine, ten seconds that are waited are ten of work. By
# this machine's clock they were over before a broker had started; and where the kernel found out at boot,
# beside other work, how fast its processor counts, it was wrong up to thirty times.
SHIFT = 2
# An old device is freed a little after it is gone.
IN_USE_MAX_S = 5.0
# Of the emulated keyboard: how long a key is held, and how long after it the next.
HOLD_S, AFTER_S = 0.02, 0.01
_KEYS = {".": "dot", "-": "minus", "\n": "ret", " ": "spc", ",": "comma", "+": "kp_add"}


@dataclass(frozen=True, slots=True)
class Done:
    """A command that ended."""

    code: int
    said: str


class MachineError(Exception):
    """The machine does not do what it is told."""


class Machine:
    """Made by `running`. broker_port: on this machine, where the guest's port 1883 is reached."""

    def __init__(self, folder: Path, broker_port: int) -> None:
        self.folder = folder
        self.broker_port = broker_port
        self.plugged: dict[str, asyncio.StreamWriter] = {}
        self.heard: dict[str, asyncio.StreamReader] = {}
        self._qmp: tuple[asyncio.StreamReader, asyncio.StreamWriter]
        self._agent: tuple[asyncio.StreamReader, asyncio.StreamWriter]
        self._answers: dict[int, asyncio.Future[int]] = {}
        self._number = 0

    @property
    def job(self) -> Path:
        """The folder that both see; /mnt/job in the machine."""
        return self.folder / "job"

    # -- what is run in it

    async def run(self, command: str, *, beside: bool = False) -> Done:
        """A command of bash, as root, in /run/bay; beside: others may be run until it ends."""
        self._number += 1
        number = self._number
        answer = self._answers[number] = asyncio.get_running_loop().create_future()
        mark = "&" if beside else ""
        self._agent[1].write(f"{number}{mark} {command}\n".encode())
        async with asyncio.timeout(None if beside else COMMAND_MAX_S):
            code = await answer
        return Done(code, (self.job / f"{number}.out").read_text(errors="replace"))

    async def must(self, command: str) -> str:
        """What a command says that must go well."""
        done = await self.run(command)
        assert done.code == 0, f"{command}: {done.code}\n{done.said}"
        return done.said

    async def _hear_answers(self) -> None:
        while line := await self._agent[0].readline():
            number, code = line.split()
            if (answer := self._answers.pop(int(number), None)) is not None and not answer.done():
                answer.set_result(int(code))
        for answer in self._answers.values():
            if not answer.done():
                answer.set_exception(MachineError("the machine ended"))

    # -- what is done to it

    async def ask(self, command: str, **arguments: Any) -> Any:
        """One command of the emulator's monitor. Raises MachineError."""
        reader, writer = self._qmp
        writer.write(json.dumps({"execute": command, "arguments": arguments}).encode() + b"\n")
        while True:
            said = json.loads(await reader.readline())
            if "error" in said:
                raise MachineError(f"{command}: {said['error']['desc']}")
            if "return" in said:
                return said["return"]

    async def plug(self, adapter: str, serial: str | None = None, port: str | None = None) -> None:
        """Put a serial adapter in. serial: the number it tells; port: of the hub, where it matters."""
        more = ({"serial": serial} if serial else {}) | ({"port": port} if port else {})
        until_s = asyncio.get_running_loop().time() + IN_USE_MAX_S
        while True:
            try:
                await self.ask(
                    "device_add",
                    driver="usb-serial",
                    id=f"dev-{adapter}",
                    bus="usb.0",
                    chardev=adapter,
                    **more,
                )
                return
            except MachineError as error:
                if "in use" not in str(error) or asyncio.get_running_loop().time() > until_s:
                    raise
            await asyncio.sleep(0.05)

    async def unplug(self, adapter: str) -> None:
        """Pull it out; done once it is gone."""
        await self.ask("device_del", id=f"dev-{adapter}")
        while any(  # noqa: ASYNC110 no event of it comes to this side
            d["name"] == f"dev-{adapter}" for d in await self.ask("qom-list", path="/machine/peripheral")
        ):
            await asyncio.sleep(0.02)

    def send(self, adapter: str, data: bytes) -> None:
        """Bytes out of the gauge at that adapter."""
        self.plugged[adapter].write(data)

    async def type(self, text: str) -> None:
        """On the USB keyboard: a gauge that types, or a foot switch that is one."""
        for letter in text:
            key = {"type": "qcode", "data": _KEYS.get(letter, letter.lower())}
            await self.ask("send-key", keys=[key], **{"hold-time": round(HOLD_S * 1000)})
            await asyncio.sleep(HOLD_S + AFTER_S)


@asynccontextmanager
async def running(
    boot: Boot, folder: Path, *, adapters: Sequence[str] = (), keyboard: bool = False, modules: str = ""
) -> AsyncIterator[Machine]:
    """A machine while the block runs. adapters: names of the serial adapters that there are, none of them
    plugged in yet. modules: of the kernel, to load as well. folder: must be short, sockets lie in it."""
    machine = Machine(folder, free_port())
    shutil.rmtree(folder, ignore_errors=True)
    machine.job.mkdir(parents=True)
    shutil.copy(HERE / "guest/agent", machine.job)
    with (folder / "console").open("wb") as console:
        command = _command(boot, machine, adapters, keyboard=keyboard)
        process = await start_child(*command, dying=signal.SIGKILL, stdout=console, stderr=console)
    hearing: asyncio.Future[None] | None = None
    try:
        machine._qmp = await _connected(folder / "qmp", process)
        await machine._qmp[0].readline()
        await machine.ask("qmp_capabilities")
        for adapter in adapters:
            machine.heard[adapter], machine.plugged[adapter] = await _connected(folder / adapter, process)
        machine._agent = await _connected(folder / "agent", process)
        ready = machine._answers[0] = asyncio.get_running_loop().create_future()
        hearing = asyncio.ensure_future(machine._hear_answers())
        async with asyncio.timeout(BOOT_MAX_S):
            await ready
        if modules:
            await machine.must(f"modprobe -a {modules}")
        yield machine
    except BaseException:
        print((folder / "console").read_text(errors="replace")[-4000:])
        raise
    finally:
        with suppress(ProcessLookupError):
            process.kill()
        await process.wait()
        if hearing is not None:
            await asyncio.wait([hearing])
        for _, writer in (machine._qmp, machine._agent):
            writer.close()
        for writer in machine.plugged.values():
            writer.close()


def _command(boot: Boot, machine: Machine, adapters: Sequence[str], *, keyboard: bool) -> list[str]:
    folder = machine.folder
    kernel = (
        "console=ttyS0 quiet panic=-1 edd=off mitigations=off tsc=reliable no_timer_check "
        f"random.trust_cpu=on rt.modules={boot.modules}"
    )
    command = [
        program("qemu-system-x86_64"), "-M", "q35", "-accel", "tcg,tb-size=256", "-cpu", PROCESSOR,
        "-icount", f"shift={SHIFT},sleep=on", "-smp", "1", "-m", "768",
        "-nodefaults", "-display", "none", "-no-reboot",
        "-serial", "stdio", "-serial", f"unix:{folder}/agent,server=on,wait=off",
        "-kernel", str(boot.kernel), "-initrd", str(boot.first_files), "-append", kernel,
        "-qmp", f"unix:{folder}/qmp,server=on,wait=off",
        "-virtfs", "local,path=/,mount_tag=hostroot,security_model=none,readonly=on,multidevs=remap",
        "-virtfs", f"local,path={machine.job},mount_tag=job,security_model=none",
        "-netdev", f"user,id=net,restrict=on,hostfwd=tcp:127.0.0.1:{machine.broker_port}-10.0.2.15:1883",
        "-device", "virtio-net-pci,netdev=net,romfile=",
        "-device", "qemu-xhci,id=usb,p2=15,p3=15",
    ]  # fmt: skip
    for adapter in adapters:
        command += ["-chardev", f"socket,id={adapter},path={folder}/{adapter},server=on,wait=off"]
    return command + (["-device", "usb-kbd,id=kbd,bus=usb.0"] if keyboard else [])


async def _connected(
    path: Path, process: asyncio.subprocess.Process
) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
    while True:
        try:
            return await asyncio.open_unix_connection(path)
        except OSError:
            assert process.returncode is None, "QEMU did not start"
            await asyncio.sleep(0.02)
