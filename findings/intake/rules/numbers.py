"""Numbers as people type them: decimal comma or point, thousands marks, blanks."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

LARGEST_EXPONENT: Final = 15
"""A technician's sheet holds nothing beyond 10^15; a longer number is a slip of the finger."""

_GROUP_MARKS: Final = "\u0020\u00a0\u202f\u2009'’"
_PLAIN: Final = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,2})?")


class DecimalMark(StrEnum):
    """Which sign parts whole from fraction in a file."""

    AUTO = "auto"
    POINT = "point"
    COMMA = "comma"


@dataclass(frozen=True, slots=True)
class Number:
    """A number that was read, or why it was not; ``doubt`` says that it could have meant another one."""

    value: Decimal | None = None
    doubt: str = ""
    error: str = ""


def parse_number(text: str, mark: DecimalMark = DecimalMark.AUTO) -> Number:
    """Read one number.

    With ``auto`` a text that holds both signs ends its whole part at the last of them; a single sign
    before exactly three digits is ambiguous ("1,234") and comes back with a doubt, read as a decimal.
    """
    plain = unicodedata.normalize("NFKC", text).strip().replace("−", "-")
    for sign in _GROUP_MARKS:
        plain = plain.replace(sign, "")
    if not plain:
        return Number(error="is blank")
    doubt = ""
    if mark is DecimalMark.POINT:
        plain = _without_groups(plain, ",")
    elif mark is DecimalMark.COMMA:
        plain = _without_groups(plain, ".").replace(",", ".")
    else:
        plain, doubt = _guess(plain)
    if not _PLAIN.fullmatch(plain):
        return Number(error=f"“{_short(text)}” is not a number")
    value = Decimal(plain)
    if value and abs(value.adjusted()) > LARGEST_EXPONENT:
        return Number(error=f"“{_short(text)}” is beyond any plausible size")
    return Number(value, doubt)


def _without_groups(plain: str, sign: str) -> str:
    """Drop thousands marks only where each stands before exactly three digits."""
    groups = rf"[+-]?\d{{1,3}}({re.escape(sign)}\d{{3}})+([.,]\d*)?"
    return plain.replace(sign, "") if re.fullmatch(groups, plain) else plain


def _guess(plain: str) -> tuple[str, str]:
    point, comma = plain.rfind("."), plain.rfind(",")
    if point >= 0 and comma >= 0:
        if comma > point:
            return _without_groups(plain, ".").replace(",", "."), ""
        return _without_groups(plain, ","), ""
    sign = "," if comma >= 0 else "."
    if plain.count(sign) > 1:
        return _without_groups(plain, sign), ""
    doubt = ""
    if re.fullmatch(rf"[+-]?[1-9]\d{{0,2}}{re.escape(sign)}\d{{3}}", plain):
        other = plain.replace(sign, "")
        doubt = f"“{plain}” could also mean {other}; say in the mapping which sign is the decimal mark"
    return plain.replace(",", "."), doubt


def _short(text: str) -> str:
    return text.strip()[:40]
