"""How a request proves who sends it: an API key, or the session of a log-in."""

from __future__ import annotations

import hashlib
import hmac
from datetime import timedelta

from django.utils import timezone
from rest_framework.authentication import BaseAuthentication, SessionAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from plantcare.people.models import ApiKey, User

# Writing "last used" at every request would make each read a write.
LAST_USED_STEP = timedelta(minutes=1)
REFUSED = "This key is not known, or is no longer valid."


class KeyAuthentication(BaseAuthentication):
    """``Authorization: Bearer pc_<prefix>_<secret>``."""

    keyword = "Bearer"

    def authenticate(self, request: Request) -> tuple[User, ApiKey] | None:
        """Return the key's owner and the key; None where no key was sent; raise where it is wrong."""
        parts = get_authorization_header(request).split()
        if not parts or parts[0].lower() != b"bearer":
            return None
        if len(parts) != 2:
            raise AuthenticationFailed(REFUSED)
        try:
            marker, prefix, secret = parts[1].decode("ascii").split("_", 2)
        except ValueError:
            raise AuthenticationFailed(REFUSED) from None
        if marker != "pc":
            raise AuthenticationFailed(REFUSED)
        key = ApiKey.objects.select_related("user").filter(prefix=prefix).first()
        digest = digest_of(secret)
        known = hmac.compare_digest(digest, bytes(key.digest)) if key else False
        now = timezone.now()
        if key is None or not known or key.revoked_at or key.expires_at <= now or not key.user.is_active:
            raise AuthenticationFailed(REFUSED)
        if key.last_used_at is None or now - key.last_used_at > LAST_USED_STEP:
            ApiKey.objects.filter(pk=key.pk).update(last_used_at=now)
        return key.user, key

    def authenticate_header(self, request: Request) -> str:  # noqa: ARG002 - the framework's signature
        """Return the challenge of a 401."""
        return f'{self.keyword} realm="plantcare"'


class PageSessionAuthentication(SessionAuthentication):
    """The session of a page, so that the browsable documentation works after a log-in."""


def digest_of(secret: str) -> bytes:
    """Return SHA-256 of a 256-bit random secret; a slow hash adds nothing to so long a secret."""
    return hashlib.sha256(secret.encode()).digest()
