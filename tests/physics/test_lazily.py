"""Big libraries stay out of a process until a sum needs them."""

import subprocess
import sys

BIG = ("numpy", "scipy", "soundfile", "openpyxl")


def test_naming_the_calculations_loads_no_big_library():
    code = f"import sys, findings.kinds.calculations; print([n for n in {BIG!r} if n in sys.modules])"

    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert said.stdout.strip() == "[]"


def test_a_web_process_starts_without_any_big_library():
    code = f"""
import os, sys
os.environ["DJANGO_SETTINGS_MODULE"] = "plantcare.settings"
import plantcare.wsgi, plantcare.urls
print([name for name in {BIG!r} if name in sys.modules])
"""

    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert said.stdout.strip() == "[]"
