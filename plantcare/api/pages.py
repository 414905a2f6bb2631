"""The documentation's pages and the schema's addresses, all served from this machine."""

from __future__ import annotations

from typing import Any

from csp.constants import SELF, UNSAFE_INLINE
from csp.decorators import csp_update
from django.http import HttpRequest, HttpResponse
from django.urls import path
from django.utils.decorators import method_decorator
from django.utils.html import format_html, format_html_join
from drf_spectacular.views import (
    SpectacularJSONAPIView,
    SpectacularRedocView,
    SpectacularSwaggerSplitView,
    SpectacularYAMLAPIView,
)

from plantcare.api.policy import EVERYONE
from plantcare.api.problems import Refusal


class SchemaYaml(SpectacularYAMLAPIView):
    """The schema as YAML."""

    needs = {"GET": EVERYONE}


class SchemaJson(SpectacularJSONAPIView):
    """The schema as JSON."""

    needs = {"GET": EVERYONE}


class TryOut(SpectacularSwaggerSplitView):
    """The page on which operations can be tried."""

    needs = {"GET": EVERYONE}
    url_name = "openapi-json"
    template_name = "plantcare_api/try_out.html"


# Its renderer writes style elements and starts a worker from a blob; scripts stay our own.
@method_decorator(csp_update({"style-src": [SELF, UNSAFE_INLINE], "worker-src": [SELF, "blob:"]}), "dispatch")
class Reference(SpectacularRedocView):
    """The page to read."""

    needs = {"GET": EVERYONE}
    url_name = "openapi-json"
    template_name = "plantcare_api/reference.html"


def problem_codes(request: HttpRequest) -> HttpResponse:  # noqa: ARG001 - a view's signature
    """List every code that a problem can carry, each with an anchor for its type address."""
    kinds = {kind.code: kind for kind in _refusals(Refusal)}
    rows = format_html_join(
        "\n",
        '<dt id="{}">{} <small>{}</small></dt><dd>{}</dd>',
        ((code, code, kind.status, kind.title) for code, kind in sorted(kinds.items())),
    )
    return HttpResponse(
        format_html(
            '<!doctype html><html lang="en"><meta charset="utf-8"><title>Problem codes</title>'
            "<h1>Problem codes</h1><dl>{}</dl></html>",
            rows,
        )
    )


def _refusals(kind: type[Refusal]) -> Any:
    yield kind
    for narrower in kind.__subclasses__():
        yield from _refusals(narrower)


urlpatterns = [
    path("api/v1/openapi.yaml", SchemaYaml.as_view(), name="openapi-yaml"),
    path("api/v1/openapi.json", SchemaJson.as_view(), name="openapi-json"),
    path("api/v1/problems", problem_codes, name="problem-codes"),
    path("api/docs/", TryOut.as_view(), name="api-docs"),
    path("api/reference/", Reference.as_view(), name="api-reference"),
]
