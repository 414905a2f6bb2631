"""The file behind a calendar's secret address: whoever knows the address may read it, without a log-in."""

from __future__ import annotations

import hashlib
from typing import cast

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.http import quote_etag
from django.views.decorators.http import require_safe

from findings.plant.access import POLICY
from findings.plant.rules import Right
from plantcare.api.actor import Actor
from plantcare.api.throttling import spent
from workorders.feeds import queries
from workorders.feeds.files import calendar_file as written

RATE = "calendar"
# The address is the secret: it may reach no other site, no index, and no cache but the reader's own.
CAREFUL = {
    "Cache-Control": "private, no-cache",
    "Referrer-Policy": "no-referrer",
    "X-Robots-Tag": "noindex, nofollow",
    "Content-Disposition": 'inline; filename="plantcare.ics"',
}


@require_safe
def calendar_file(request: HttpRequest, token: str) -> HttpResponse:
    """Answer the calendar, or that the reader's copy still holds; a wrong address answers like none."""
    at = timezone.now()
    feed = queries.feed_at(token)
    # Behind a proxy all come from one address: who guesses there must not shut out who knows.
    caller = f"feed:{feed.pk}" if feed is not None else f"address:{request.META.get('REMOTE_ADDR', '')}"
    wait_s = spent(RATE, caller)
    if wait_s is not None:
        return _plain("Too many requests.", 429, {"Retry-After": str(wait_s)})
    if feed is None or not feed.user.is_active:
        return _plain("Not found.", 404)
    reader = Actor(user_id=feed.user_id, name=str(feed.user))
    if Right.VIEW not in POLICY.rights(reader, feed.site_id):
        return _plain("Not found.", 404)
    body = written(f"{feed.site.code} {feed.name}", queries.items_of(feed, at))
    response = HttpResponse(body, content_type="text/calendar; charset=utf-8", headers=CAREFUL)
    response.headers["ETag"] = quote_etag(hashlib.sha256(body).hexdigest()[:32])
    kept = get_conditional_response(request, etag=response.headers["ETag"], response=response)
    return cast(HttpResponse, kept)


def _plain(text: str, status: int, headers: dict[str, str] | None = None) -> HttpResponse:
    told = {**CAREFUL, "Content-Disposition": "inline", "Cache-Control": "no-store", **(headers or {})}
    return HttpResponse(text, status=status, content_type="text/plain; charset=utf-8", headers=told)
