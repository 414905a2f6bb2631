"""What a run did, kept site by site and told only to those who may know of the site."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Mapping
from typing import Any

BY_SITE = "by_site"
FAILED = "failed"


def recorded(
    done: Mapping[uuid.UUID | None, Mapping[str, Any]], failed: Mapping[uuid.UUID | None, str]
) -> tuple[dict[str, Any], str]:
    """Return the result and error to keep; work that belongs to no site has its figures at the top."""
    if None in done or None in failed:
        return dict(done.get(None, {})), failed.get(None, "")
    kept = {BY_SITE: {str(site): dict(answer) for site, answer in done.items()}}
    return kept | {FAILED: {str(site): words for site, words in failed.items()}}, ""


def told(
    result: Mapping[str, Any], error: str, sites: Collection[uuid.UUID] | None
) -> tuple[dict[str, Any], str]:
    """Return the figures added up over ``sites`` (None: all of them), and why any of them failed."""
    if BY_SITE not in result:
        return dict(result), error
    seen = None if sites is None else {str(site) for site in sites}
    parts = [answer for site, answer in result[BY_SITE].items() if seen is None or site in seen]
    words = [text for site, text in result.get(FAILED, {}).items() if seen is None or site in seen]
    return added(parts), error or "; ".join(words)


def added(parts: Collection[Mapping[str, Any]]) -> dict[str, Any]:
    """Add counts to counts and put lists behind lists; of anything else the last stands."""
    total: dict[str, Any] = {}
    for part in parts:
        for name, value in part.items():
            known = total.get(name)
            both_lists = isinstance(known, list) and isinstance(value, list)
            both_numbers = _is_number(known) and _is_number(value)
            total[name] = known + value if both_lists or both_numbers else value
    return total


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
