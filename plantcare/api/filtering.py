"""Filters of a list: declared ones only, each value checked, never a silent "everything"."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import django_filters
from django import forms
from django.db.models import Q, QuerySet
from rest_framework.request import Request
from rest_framework.serializers import ValidationError

from plantcare.api.fields import AwareDateTimeField, DateField, FloatField
from plantcare.api.problems import FieldError, Invalid


class _CheckedField(forms.Field):
    """A form field that asks one of the body's fields, so that query and body agree."""

    def __init__(self, checker: Any, **kwargs: Any) -> None:
        self.checker = checker
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> Any:
        if value in self.empty_values:
            return None
        try:
            return self.checker.run_validation(value)
        except ValidationError as exc:
            messages: Any = exc.detail
            raise forms.ValidationError(str(messages[0]), code=messages[0].code) from None


class _AwareDateTimeFormField(_CheckedField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(AwareDateTimeField(), **kwargs)


class _DateFormField(_CheckedField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(DateField(), **kwargs)


class _NumberFormField(_CheckedField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(FloatField(), **kwargs)


class _BooleanFormField(forms.Field):
    def to_python(self, value: Any) -> bool | None:
        if value in self.empty_values:
            return None
        if value not in ("true", "false"):
            message = "true or false."
            raise forms.ValidationError(message, code="invalid")
        return bool(value == "true")


class UuidFilter(django_filters.UUIDFilter):
    """?area_id=<uuid>"""

    openapi = {"type": "string", "format": "uuid"}


class UuidsFilter(django_filters.BaseInFilter, django_filters.UUIDFilter):
    """?asset_id=<uuid>,<uuid>"""

    openapi = {"type": "string", "description": "One or more ids, separated by commas."}


class ChoiceFilter(django_filters.ChoiceFilter):
    """?state=open"""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, empty_label=None, **kwargs)

    @property
    def openapi(self) -> dict[str, Any]:
        """Return the parameter's schema."""
        return {"type": "string", "enum": [value for value, _ in self.extra["choices"]]}


class ChoicesFilter(django_filters.BaseInFilter, django_filters.ChoiceFilter):
    """?state=open,deferred"""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, empty_label=None, **kwargs)

    @property
    def openapi(self) -> dict[str, Any]:
        """Return the parameter's schema."""
        values = [str(value) for value, _ in self.extra["choices"]]
        return {
            "type": "array",
            "items": {"type": "string", "enum": values},
            "minItems": 1,
        }


class AwareDateTimeFilter(django_filters.Filter):
    """?heard_after=2026-03-01T00:00:00Z; name the comparison by ``lookup_expr``."""

    field_class = _AwareDateTimeFormField
    openapi = {"type": "string", "format": "date-time"}


class DateFilter(django_filters.Filter):
    """?due_before=2026-03-01"""

    field_class = _DateFormField
    openapi = {"type": "string", "format": "date"}


class NumberFilter(django_filters.Filter):
    """?level_db_min=40"""

    field_class = _NumberFormField
    openapi = {"type": "number"}


class BooleanFilter(django_filters.Filter):
    """?overdue=true"""

    field_class = _BooleanFormField
    openapi = {"type": "boolean"}


class CodeFilter(django_filters.CharFilter):
    """?code=TBW, compared exactly."""

    openapi = {"type": "string", "minLength": 1, "maxLength": 200}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"max_length": 200, **kwargs})


class TextFilter(django_filters.CharFilter):
    """?q=valve: every word has to occur in one of the columns, upper and lower case alike."""

    openapi = {"type": "string", "maxLength": 200}
    most_words = 8

    def __init__(self, *args: Any, fields: Sequence[str], **kwargs: Any) -> None:
        self.columns = tuple(fields)
        super().__init__(*args, **{"max_length": 200, **kwargs})

    def filter(self, qs: QuerySet[Any], value: Any) -> QuerySet[Any]:
        """Return the rows that hold every word."""
        for word in str(value or "").split()[: self.most_words]:
            anywhere = Q()
            for column in self.columns:
                anywhere |= Q(**{f"{column}__icontains": word})
            qs = qs.filter(anywhere)
        return qs


class StrictFilterSet(django_filters.FilterSet):
    """Declared filters whose wrong values are refused; unknown names are refused by the door."""

    @classmethod
    def narrow(cls, request: Request, rows: QuerySet[Any]) -> QuerySet[Any]:
        """Return the rows that the query asks for; raise Invalid with ``?name`` pointers."""
        given = {n: v for n, v in request.query_params.items() if n in cls.base_filters}
        blank = [n for n, v in given.items() if not v and not isinstance(cls.base_filters[n], TextFilter)]
        if blank:
            raise Invalid(errors=[FieldError(f"?{n}", "blank", "A value is missing.") for n in blank])
        chosen = cls(data=given, queryset=rows, request=request)
        if not chosen.is_valid():
            raise Invalid(errors=_errors(chosen.form))
        narrowed: QuerySet[Any] = chosen.qs
        return narrowed


def _errors(form: forms.BaseForm) -> list[FieldError]:
    return [
        FieldError(f"?{name}", error.code or "invalid", " ".join(error.messages))
        for name, errors in form.errors.as_data().items()
        for error in errors
    ]
