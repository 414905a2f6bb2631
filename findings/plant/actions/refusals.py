"""What every act on the register may refuse, whatever the thing."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any, NoReturn, TypeVar

from django.db.models import QuerySet

from findings.plant.models import Site
from findings.plant.rules import PlaceRefused, clean_code
from plantcare.api.problems import Conflict, FieldError, Invalid, NotFound, constraint_refusals

ValueT = TypeVar("ValueT")


class CodeTaken(Conflict):
    """Codes name things on paper and in files, so each names one thing of its site."""

    code = "code_taken"
    title = "This code already names something else here."


class OtherSite(Invalid):
    """Things of one act belong to one site."""

    code = "unknown_reference"
    title = "An id names nothing here."


class SiteUnknown(NotFound):
    """No such site."""


def read(pointer: str, reader: Callable[[str], ValueT], text: str) -> ValueT:
    """Return what a rule makes of a text; raise Invalid with the pointer where it refuses."""
    try:
        return reader(text)
    except PlaceRefused as exc:
        raise Invalid(str(exc), errors=[FieldError(pointer, exc.code, str(exc))]) from None


def free_code(rows: QuerySet[Any], code: str) -> str:
    """Return the cleaned code when none of the rows has it. Raises Invalid, CodeTaken."""
    cleaned = read("/code", clean_code, code)
    if rows.filter(code=cleaned).exists():
        raise code_taken(cleaned)
    return cleaned


def code_taken(code: str = "") -> CodeTaken:
    """Return the refusal of a code that is in use."""
    text = f"{code} already names something else here." if code else CodeTaken.title
    return CodeTaken(text, errors=[FieldError("/code", "code_taken", text)])


def code_constraint(name: str) -> None:
    """Let two who take one code at the same moment get the same refusal as one after the other."""
    constraint_refusals[name] = code_taken


def refuse(pointer: str, code: str, text: str) -> NoReturn:
    """Raise Invalid for one member."""
    raise Invalid(text, errors=[FieldError(pointer, code, text)])


def named(name: str) -> str:
    """Return the trimmed name. Raises Invalid when empty."""
    if not name.strip():
        refuse("/name", "blank", "A name is needed.")
    return name.strip()


def unknown(where: str) -> NoReturn:
    """Raise OtherSite: what the pointer names is not there for this site."""
    raise OtherSite(errors=[FieldError(where, "unknown_reference", "Names nothing here.")])


def same_site(site_id: uuid.UUID, pointer: str, found_site_id: uuid.UUID | None) -> None:
    """Raise OtherSite unless what the pointer names belongs to the site."""
    if found_site_id != site_id:
        unknown(pointer)


def lock_site(site_id: uuid.UUID) -> Site:
    """Return the site and hold back other acts on its tree or members until this one ends.

    The lock lets others go on referring to the site. Raises SiteUnknown.
    """
    site = Site.objects.select_for_update(no_key=True).filter(pk=site_id).first()
    if site is None:
        raise SiteUnknown
    return site


def site_of(site_id: uuid.UUID) -> Site:
    """Return the site. Raises SiteUnknown."""
    site = Site.objects.filter(pk=site_id).first()
    if site is None:
        raise SiteUnknown
    return site
