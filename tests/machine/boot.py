"""What the machine boots: Debian's kernel with its modules, and the few files that find its file system."""

from __future__ import annotations

import os
import platform
import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).parent
NEEDED = {
    "qemu-system-x86_64": "qemu-system-x86",
    "busybox": "busybox-static",
    "cpio": "cpio",
    "depmod": "kmod",
}
"""Programs, and the Debian packages that have them."""
FIRST_MODULES = ("virtio_pci", "9pnet_virtio", "9p", "overlay")
"""What is loaded before there is a file system."""


@dataclass(frozen=True, slots=True)
class Boot:
    """The kernel, its first files, and the folder of its modules."""

    kernel: Path
    first_files: Path
    modules: Path


def prepared() -> Boot:
    """Fetched and built where it is not there yet. A machine on which it cannot be had fails the tests: they
    run only when asked for."""
    _install()
    given = os.environ.get("RINGTRUE_MACHINE_CACHE")
    cache = Path(given) if given else Path.home() / ".cache/ringtrue-machine"
    cache.mkdir(parents=True, exist_ok=True)
    package = _kernel_package()
    root = cache / package
    if not root.exists():
        _fetch(package, root)
    (modules,) = (root / "lib/modules").iterdir()
    boot = Boot(root / f"boot/vmlinuz-{modules.name}", cache / f"{package}.first", root / "lib/modules")
    _pack(boot, modules.name)
    return boot


def _install() -> None:
    assert platform.machine() == "x86_64", "the test machine is made for x86-64 alone"
    path = f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin"
    missing = [package for name, package in NEEDED.items() if not shutil.which(name, path=path)]
    if missing:
        assert os.geteuid() == 0, f"the test machine needs {' '.join(missing)}: apt-get install them as root"
        subprocess.run(["apt-get", "update", "-qq"], check=True)
        install = ["apt-get", "install", "-qq", "-y", "--no-install-recommends", *missing]
        subprocess.run(install, check=True, stdout=subprocess.DEVNULL)


def _kernel_package() -> str:
    said = subprocess.run(
        ["apt-cache", "depends", "linux-image-amd64"], capture_output=True, text=True, check=True
    )
    found = re.search(r"Depends: (linux-image-\S+)", said.stdout)
    assert found is not None, "apt knows no linux-image-amd64: the test machine boots Debian's kernel"
    return found[1]


def _fetch(package: str, root: Path) -> None:
    fresh = root.with_suffix(".new")
    shutil.rmtree(fresh, ignore_errors=True)
    (fresh / "deb").mkdir(parents=True)
    as_root = ["-o", "APT::Sandbox::User=root"] if os.geteuid() == 0 else []
    subprocess.run(["apt-get", *as_root, "-qq", "download", package], cwd=fresh / "deb", check=True)
    (deb,) = (fresh / "deb").iterdir()
    subprocess.run(["dpkg", "-x", deb, fresh], check=True)
    shutil.rmtree(fresh / "deb")
    (modules,) = (fresh / "lib/modules").iterdir()
    subprocess.run([program("depmod"), "-b", str(fresh), modules.name], check=True)
    fresh.rename(root)


def _pack(boot: Boot, version: str) -> None:
    """busybox, the first process, and the modules of the file system, in the order in which they load."""
    files = boot.first_files.with_suffix(".files")
    shutil.rmtree(files, ignore_errors=True)
    for folder in ("bin", "proc", "sys", "dev", "host", "rw", "new", "mods"):
        (files / folder).mkdir(parents=True)
    shutil.copy(program("busybox"), files / "bin/busybox")
    shutil.copy(HERE / "guest/init", files / "init")
    (files / "init").chmod(0o755)
    order: list[str] = []
    for name in FIRST_MODULES:
        asked = [
            program("modprobe"),
            "-d",
            str(boot.modules.parents[1]),
            "-S",
            version,
            "--show-depends",
            name,
        ]
        said = subprocess.run(asked, capture_output=True, text=True, check=True)
        for line in said.stdout.splitlines():
            module = Path(line.split()[1])
            if line.startswith("insmod") and module.name not in order:
                order.append(module.name)
                shutil.copy(module, files / "mods")
    (files / "mods/order").write_text("".join(f"{name}\n" for name in order))
    names = "".join(f"{path.relative_to(files)}\n" for path in sorted(files.rglob("*")))
    with boot.first_files.open("wb") as archive:
        subprocess.run(
            ["cpio", "-o", "-H", "newc", "--quiet"],
            cwd=files,
            input=names.encode(),
            stdout=archive,
            check=True,
        )
    shutil.rmtree(files)


def program(name: str) -> str:
    """Where it is."""
    found = shutil.which(name, path=f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin")
    assert found is not None, name
    return found
