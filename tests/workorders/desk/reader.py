"""Read pages in tests as somebody."""

from __future__ import annotations

import re
from html import unescape
from typing import Any

from django.test import Client

from findings.plant.models import Site
from tests.people import member

ROLES = ("inspector", "planner", "technician", "manager", "integrator")
"""Every role."""


def reader(site: Site, role: str = "manager", **values: Any) -> Client:
    """Return a browser that somebody new with this role has logged in with."""
    return reader_for(member(site, role, **values))


def reader_for(user: Any) -> Client:
    """Return a browser that this person has logged in with."""
    client = Client()
    client.force_login(user)
    return client


def words_of(body: str) -> str:
    """Return the words of HTML without its marks, blanks run together, thin spaces as plain ones."""
    plain = unescape(re.sub(r"<[^>]+>", " ", body))
    return " ".join(plain.replace("\u202f", " ").replace("\u00a0", " ").split())


def content_of(response: Any) -> str:
    """Return the words of the page's main part."""
    body = response.content.decode()
    return words_of(body[body.index("<main") : body.index("</main>")])
