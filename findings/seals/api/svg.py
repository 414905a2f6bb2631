"""Answer with a drawing of our own that can do nothing where it is opened."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import HttpResponse
from rest_framework.renderers import BaseRenderer

SVG = "image/svg+xml"
SANDBOX = "sandbox; default-src 'none'; style-src 'none'; frame-ancestors 'none'"


class SvgRenderer(BaseRenderer):
    """Lets a caller ask for a drawing; the drawing itself is answered whole by ``svg_answer``."""

    media_type = SVG
    format = "svg"
    charset = "utf-8"

    def render(
        self,
        data: Any,
        accepted_media_type: str | None = None,  # noqa: ARG002 - the framework's signature
        renderer_context: Mapping[str, Any] | None = None,  # noqa: ARG002
    ) -> bytes:
        """Return the text as it is."""
        return str(data or "").encode()


def svg_answer(drawing: str) -> HttpResponse:
    """Return a drawing as an answer that no browser takes for anything else."""
    response = HttpResponse(drawing, content_type=f"{SVG}; charset=utf-8")
    response.headers["Content-Security-Policy"] = SANDBOX
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Content-Disposition"] = 'inline; filename="seam-plan.svg"'
    return response
