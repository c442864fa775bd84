"""What the script `run` sets up, where that can be tried without fetching anything."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

RUN = Path(__file__).parents[1] / "run"


@pytest.mark.slow
@pytest.mark.parametrize("locale", ["C", "C.UTF-8", "POSIX"])
def test_a_checkout_of_any_name_is_found_in_any_locale(locale: str, tmp_path: Path) -> None:
    checkout = tmp_path / "größe 'ü' $x"
    checkout.mkdir()
    (checkout / "probed.py").write_text("print('found')")
    python = tmp_path / "venv/bin/python"
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(tmp_path / "venv")], check=True)
    function = RUN.read_text().partition("checkout_pth() {")[2].partition("\n}\n")[0]
    script = f'checkout_pth() {{{function}\n}}\ncheckout_pth "$1" "$2"'
    environ = {"LC_ALL": locale, "PATH": "/usr/bin:/bin"}
    subprocess.run(["bash", "-ec", script, "-", python, checkout], check=True, env=environ)
    done = subprocess.run(
        [python, "-m", "probed"], capture_output=True, text=True, check=False, env=environ, cwd="/"
    )
    assert (done.stdout, done.stderr) == ("found\n", "")


def test_a_32_bit_system_is_told_so_before_anything_is_fetched(tmp_path: Path) -> None:
    """An interpreter of 32 bits stands in; nothing else is asked of it."""
    shutil.copy(RUN, tmp_path / "run")
    (tmp_path / "locks").mkdir()
    (tmp_path / "locks/run.txt").touch()
    python = tmp_path / "python"
    python.write_text('#!/bin/sh\ncase "$2" in *maxsize*) exit 1 ;; *version_info*) exit 0 ;; esac\nexit 9\n')
    python.chmod(0o755)
    done = subprocess.run(
        [tmp_path / "run", "check"], capture_output=True, text=True, check=False,
        env={"PATH": "/usr/bin:/bin", "RINGTRUE_PYTHON": str(python)},
    )  # fmt: skip
    assert done.returncode == 3
    assert done.stderr == (
        "ringtrue: a 64-bit system is needed: its packages are not made for 32-bit ones (armv7, i686)\n"
    )
    assert not (tmp_path / ".venv").exists()
