"""Single values of a body or an answer: what is taken is storable, what is given is exact."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from django.conf import settings
from django.utils.dateparse import parse_datetime
from drf_spectacular.drainage import set_override
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from plantcare.api.parsers import Malformed, check_values, storable
from plantcare.api.problems import TooLarge

EARLIEST_YEAR, LATEST_YEAR = 1900, 2199
LARGEST_MAGNITUDE = 1e15
LARGEST_INTEGER = 2**53 - 1  # whole numbers that every JSON reader keeps exact (RFC 8259 section 6)
MAX_JSON_CHARACTERS = 100_000
MAX_UPLOAD_BYTES = 20 * 1024 * 1024


class TextField(serializers.CharField):
    """A storable text, kept as it came; one of blanks only counts as blank."""

    default_error_messages = {"character_refused": "Holds a character that can't be stored."}

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 10_000)
        kwargs.setdefault("trim_whitespace", False)
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> str:
        """Take texts only: a number or truth value is a mistake, not a text."""
        if not isinstance(data, str):
            self.fail("invalid")
        if not storable(data):
            self.fail("character_refused")
        if not data.strip() and not self.allow_blank:
            self.fail("blank")
        return super().to_internal_value(data)


class UuidField(serializers.UUIDField):
    """An id; only the hyphenated text form."""

    def to_internal_value(self, data: Any) -> Any:
        """Refuse whole numbers and URN forms."""
        if not isinstance(data, str) or len(data) != 36:
            self.fail("invalid", value=str(data)[:40])
        return super().to_internal_value(data)


class ChoiceField(serializers.ChoiceField):
    """One of the named values."""

    def to_internal_value(self, data: Any) -> Any:
        """Refuse anything that isn't one of the values, whatever its type."""
        if not isinstance(data, str | int) or isinstance(data, bool):
            self.fail("invalid_choice", input=str(data)[:40])
        return super().to_internal_value(data)


class BooleanField(serializers.BooleanField):
    """true or false, nothing else."""

    def to_internal_value(self, data: Any) -> bool:
        """Refuse "yes", 1 and their kin in bodies; take their text in a query."""
        if isinstance(data, bool):
            return data
        if data in ("true", "false") and isinstance(data, str):
            return data == "true"
        self.fail("invalid", input=str(data)[:40])
        raise AssertionError


class IntegerField(serializers.IntegerField):
    """A whole number within bounds."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("min_value", -LARGEST_INTEGER)
        kwargs.setdefault("max_value", LARGEST_INTEGER)
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> int:
        """Refuse truth values and fractions."""
        if isinstance(data, bool | float) and (isinstance(data, bool) or not data.is_integer()):
            self.fail("invalid")
        return int(super().to_internal_value(data))


class FloatField(serializers.FloatField):
    """A measured number: finite, of a magnitude that physics can mean."""

    default_error_messages = {"not_finite": "A finite number is needed."}

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("min_value", -LARGEST_MAGNITUDE)
        kwargs.setdefault("max_value", LARGEST_MAGNITUDE)
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> float:
        """Refuse truth values, NaN, infinities and what only overflows to them."""
        if isinstance(data, bool):
            self.fail("invalid")
        try:
            number = super().to_internal_value(data)
        except OverflowError:
            self.fail("not_finite")
        if not math.isfinite(number):
            self.fail("not_finite")
        return float(number)


class DecimalString(serializers.DecimalField):
    """An exact number, given and taken as text ("12.50"); for money and prices."""

    default_error_messages = {"not_text": 'Send it as text, like "12.50": JSON numbers lose digits.'}
    _form = re.compile(r"-?\d{1,30}(\.\d{1,30})?")

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_digits", 18)
        kwargs.setdefault("decimal_places", 6)
        super().__init__(**kwargs)
        whole = max(1, int(kwargs["max_digits"]) - int(kwargs["decimal_places"]))
        pattern = rf"^-?\d{{1,{whole}}}(\.\d{{1,{kwargs['decimal_places']}}})?$"
        set_override(self, "field", {"type": "string", "format": "decimal", "pattern": pattern})

    def to_internal_value(self, data: Any) -> Decimal:
        """Take plain decimal text, or a whole number; refuse floats and exponents."""
        if isinstance(data, bool | float) or not isinstance(data, str | int):
            self.fail("not_text")
        if not self._form.fullmatch(str(data)):
            self.fail("invalid")
        return Decimal(super().to_internal_value(str(data)))

    def to_representation(self, value: Any) -> str:
        """Return all digits that are kept, without an exponent."""
        return format(value if isinstance(value, Decimal) else Decimal(str(value)), "f")


class CurrencyField(TextField):
    """An ISO 4217 code: three capital letters."""

    default_error_messages = {"currency": "Three capital letters of ISO 4217, like EUR."}

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{**kwargs, "max_length": 3, "min_length": 3})

    def to_internal_value(self, data: Any) -> str:
        """Refuse anything but three capitals."""
        text = super().to_internal_value(data)
        if not (text.isascii() and text.isalpha() and text.isupper()):
            self.fail("currency")
        return text


class AwareDateTimeField(serializers.DateTimeField):
    """A moment with its offset (RFC 3339); given in UTC with Z."""

    default_error_messages = {
        "naive": "The offset is missing: end with Z or +01:00.",
        "year": f"The year has to lie between {EARLIEST_YEAR} and {LATEST_YEAR}.",
    }

    _form = re.compile(r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d", re.ASCII)

    def to_internal_value(self, value: Any) -> datetime:
        """Return the moment in UTC; refuse one without an offset."""
        if not isinstance(value, str) or not self._form.match(value) or len(value) > 40:
            self.fail("invalid", format="2026-03-01T08:30:00+01:00")
        try:
            moment = parse_datetime(value)
        except ValueError:
            moment = None
        if moment is None:
            self.fail("invalid", format="2026-03-01T08:30:00+01:00")
        if moment.tzinfo is None:
            self.fail("naive")
        if not EARLIEST_YEAR <= moment.year <= LATEST_YEAR:
            self.fail("year")
        return moment.astimezone(UTC)

    def to_representation(self, value: Any) -> Any:
        """Leave the writing to the encoder."""
        return value


class DateField(serializers.DateField):
    """A day of the site's calendar (RFC 3339 full-date)."""

    default_error_messages = {"year": AwareDateTimeField.default_error_messages["year"]}

    def to_internal_value(self, value: Any) -> date:
        """Refuse years that can only be slips."""
        if not isinstance(value, str) or not re.fullmatch(r"\d{4}-\d\d-\d\d", value):
            self.fail("invalid", format="YYYY-MM-DD")
        day = super().to_internal_value(value)
        if not EARLIEST_YEAR <= day.year <= LATEST_YEAR:
            self.fail("year")
        return day


class FileField(serializers.FileField):
    """An uploaded file, bounded in size; for doors whose parser is MultiPartParser."""

    def __init__(self, *, max_bytes: int | None = None, **kwargs: Any) -> None:
        self.max_bytes = max_bytes
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> Any:
        """Return the file; raise TooLarge (413) above the limit."""
        found = super().to_internal_value(data)
        site_wide = int(getattr(settings, "PLANTCARE_UPLOAD_MAX_BYTES", MAX_UPLOAD_BYTES))
        limit = self.max_bytes or site_wide
        if int(found.size or 0) > limit:
            msg = f"A file has at most {limit} bytes."
            raise TooLarge(msg)
        return found


@extend_schema_field({"type": "object", "additionalProperties": {}})
class JsonObjectField(serializers.JSONField):
    """A free JSON object, bounded in depth and length, storable as jsonb."""

    default_error_messages = {
        "not_object": "A JSON object is needed.",
        "too_long": f"More than {MAX_JSON_CHARACTERS} characters.",
        "refused": "Too deep, or holds a character that can't be stored.",
    }

    def __init__(self, *, max_depth: int = 8, **kwargs: Any) -> None:
        self.max_depth = max_depth
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> Any:
        """Return the object as it came; refuse what jsonb or a reader can't bear."""
        if not isinstance(data, Mapping):
            self.fail("not_object")
        try:
            check_values(data, self.max_depth)
        except Malformed:
            self.fail("refused")
        if len(str(data)) > MAX_JSON_CHARACTERS:
            self.fail("too_long")
        return dict(data)
