"""What the script `run` sets up, where that can be tried without fetching anything."""

from __future__ import annotations

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
