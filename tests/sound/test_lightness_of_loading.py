"""What is named when the web process starts loads no big library; the worker's part does."""

import subprocess
import sys

import pytest

LIGHT = ("container", "header", "wav", "flac", "rhythm", "bursts", "discharge", "drawing", "palette", "png")
BIG = ("numpy", "scipy", "soundfile")


@pytest.mark.parametrize("name", LIGHT)
def test_loads_no_big_library(name):
    code = f"import sys, findings.sound.{name}; print([big for big in {BIG!r} if big in sys.modules])"

    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert said.stdout.strip() == "[]"
