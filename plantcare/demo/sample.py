"""A survey sheet as a technician keeps it: mixed units, decimal commas, and a few slips."""

from __future__ import annotations

import csv
import io
from datetime import date
from typing import Final

HEADER: Final = (
    "Date", "Time", "Asset", "Spot", "Kind", "Medium", "Pressure [psi]", "Hole [mm]", "Flow [cfm]", "Level [dB]",
    "Background [dB]", "Distance [ft]", "Temperature [°F]", "Severity", "Instrument", "Note",
)  # fmt: skip

ROWS: Final = (
    # asset, spot, kind, medium, psi, mm, cfm, dB, background, ft, °F, severity, note
    (
        "CV-1",
        "stopper cylinder",
        "pressure leak",
        "compressed air",
        "101,5",
        "2,2",
        "",
        "71,5",
        "24",
        "1,6",
        "70",
        "",
        "rod seal",
    ),
    (
        "CV-2",
        "diverter hose",
        "pressure leak",
        "compressed air",
        "101,5",
        "1,6",
        "",
        "66",
        "24",
        "1,6",
        "70",
        "",
        "",
    ),
    (
        "PK-1",
        "glue unit regulator",
        "pressure leak",
        "compressed air",
        "101,5",
        "",
        "6,4",
        "69,5",
        "23",
        "1,6",
        "70",
        "",
        "flow by bag",
    ),
    ("VP-1", "filter lid", "vacuum leak", "vacuum", "", "", "", "58", "26", "1,6", "72", "3", ""),
    (
        "DF-1",
        "fan bearing, free end",
        "mechanical wear",
        "",
        "",
        "",
        "",
        "44",
        "",
        "",
        "",
        "2",
        "listen again in a week",
    ),
    ("PS-1", "sill", "enclosure leak", "", "", "", "", "38", "18", "0,3", "", "2", "gasket flat"),
    (
        "CV-1",
        "stopper cylinder",
        "pressure leak",
        "compressed air",
        "101,5",
        "2,2",
        "",
        "71,5",
        "24",
        "1,6",
        "70",
        "",
        "rod seal",
    ),
    (
        "CV-9",
        "stopper cylinder",
        "pressure leak",
        "compressed air",
        "101,5",
        "1,0",
        "",
        "60",
        "24",
        "1,6",
        "70",
        "",
        "no such conveyor",
    ),
    (
        "RM-1",
        "flange behind the ladder",
        "pressure leak",
        "compressed air",
        "101,5",
        "0,9",
        "",
        "59",
        "21",
        "3,3",
        "68",
        "",
        "a spot nobody has measured before",
    ),
)
"""The seventh row repeats the first, the eighth names no known asset, the ninth a new spot."""

SPOTS: Final = frozenset((asset, spot) for asset, spot, *_ in ROWS)
"""The story leaves these spots quiet, so that the sheet brings something new."""


def sample_survey(day: date) -> str:
    """Return the sheet of a walk on ``day`` as text with semicolons."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=";", lineterminator="\n")
    writer.writerow(HEADER)
    for number, row in enumerate(ROWS):
        minute = 0 if number == len(ROWS) - 3 else number * 7
        *middle, note = row
        writer.writerow([f"{day:%d.%m.%Y}", f"08:{minute:02d}", *middle, "D-1", note])
    return out.getvalue()
