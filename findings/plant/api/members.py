"""Doors of who works where, who the caller is, and the caller's keys."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.response import Response

from findings.plant import actions, queries
from findings.plant.access import standing
from findings.plant.rules import Right, Role
from plantcare.api import filtering, shapes
from plantcare.api.problems import Forbidden
from plantcare.api.views import SIGNED_IN, ActDoor, CreateDoor, DetailDoor, Door, ListDoor
from plantcare.people import actions as people_actions
from plantcare.people import queries as people

ROLES = [(role.value, role.value) for role in Role]
SCOPES = [(right.value, right.value) for right in Right]


class MembershipShape(shapes.Shape):
    """A person's role at a site."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    user_id = shapes.UuidField(source="user.public_id")
    username = shapes.TextField(source="user.username")
    name = shapes.TextField(source="user.get_full_name")
    is_service = shapes.BooleanField(source="user.is_service")
    role = shapes.ChoiceField(choices=ROLES)
    since_at = shapes.AwareDateTimeField()
    ended_at = shapes.AwareDateTimeField(allow_null=True)


class MembershipInput(shapes.InputShape):
    """A new role of a person who may sign in."""

    site_id = shapes.UuidField()
    username = shapes.TextField(max_length=150)
    role = shapes.ChoiceField(choices=ROLES)


class MembershipFilters(filtering.StrictFilterSet):
    """Filters of memberships."""

    site_id = filtering.UuidFilter()
    username = filtering.CodeFilter(field_name="user__username")
    role = filtering.ChoicesFilter(choices=ROLES)
    current = filtering.BooleanFilter(field_name="ended_at", lookup_expr="isnull")


class Memberships(CreateDoor, ListDoor):
    """Who works where."""

    noun, room = "membership", "people"
    needs = {"GET": Right.VIEW, "POST": Right.MEMBERS}
    shape, input_shape, filterset_class = MembershipShape, MembershipInput, MembershipFilters
    orderings = {"username": ("user__username",), "-since_at": ("-since_at",)}

    def rows(self) -> QuerySet[Any]:
        """Return all memberships."""
        return queries.memberships()

    def act(self, data: dict[str, Any]) -> Any:
        """Give the role."""
        user_id = actions.person_named(data.pop("username"))
        return actions.add_membership(actor=self.actor, at=self.at, user_id=user_id, **data)


class Membership(DetailDoor):
    """One membership."""

    noun, room = "membership", "people"
    needs = {"GET": Right.VIEW}
    shape = MembershipShape

    def rows(self) -> QuerySet[Any]:
        """Return all memberships."""
        return queries.memberships()


class MembershipEndInput(shapes.InputShape):
    """Why, if there is something to say."""

    reason = shapes.TextField(max_length=500, required=False, allow_blank=True)


class MembershipEnd(ActDoor):
    """End a role at once."""

    operation, room = "membership_end", "people"
    needs = {"POST": Right.MEMBERS}
    shape, input_shape = MembershipShape, MembershipEndInput
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return all memberships."""
        return queries.memberships()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """End it."""
        return actions.end_membership(actor=self.actor, at=self.at, membership_id=obj.pk, **data)


class StandingShape(shapes.Shape):
    """What the caller is and may do at one site."""

    site_id = shapes.UuidField()
    code = shapes.TextField()
    name = shapes.TextField()
    time_zone = shapes.TextField()
    currency = shapes.CurrencyField()
    unit_system = shapes.TextField()
    roles = shapes.ListField(child=shapes.TextField())
    rights = shapes.ListField(child=shapes.TextField())


class MeShape(shapes.Shape):
    """Who the caller is."""

    user_id = shapes.UuidField(source="public_id")
    username = shapes.TextField()
    name = shapes.TextField(source="get_full_name")
    unit_system = shapes.TextField()
    is_service = shapes.BooleanField()
    is_superuser = shapes.BooleanField()
    key = serializers.SerializerMethodField()
    sites = serializers.SerializerMethodField()

    def get_key(self, _: Any) -> str | None:
        """Return the name of the key that was sent, or null at a log-in."""
        return getattr(self.context["request"].auth, "name", None)

    def get_sites(self, _: Any) -> list[dict[str, Any]]:
        """Return the caller's sites with roles and rights; a key's rights are no more than its scopes."""
        return list(StandingShape(standing(self.context["view"].actor), many=True).data)


class Me(Door):
    """Who the caller is, and what the caller may do where."""

    operation, room = "me_read", "people"
    needs = {"GET": SIGNED_IN}
    shape = MeShape

    def get(self, *_: Any, **__: Any) -> Response:
        """Answer who asks."""
        return self.answer(self.request.user)


class ApiKeyShape(shapes.Shape):
    """A key; its secret is told once, in the answer that made it."""

    id = shapes.UuidField()
    name = shapes.TextField()
    prefix = shapes.TextField()
    scopes = shapes.ListField(child=shapes.ChoiceField(choices=SCOPES))
    created_at = shapes.AwareDateTimeField()
    expires_at = shapes.AwareDateTimeField()
    revoked_at = shapes.AwareDateTimeField(allow_null=True)
    last_used_at = shapes.AwareDateTimeField(allow_null=True)
    secret = serializers.SerializerMethodField()

    def get_secret(self, _: Any) -> str | None:
        """Return the secret in the answer that made the key, null ever after."""
        return getattr(self.context["view"], "secret", None)


class ApiKeyInput(shapes.InputShape):
    """A new key of the caller; it never may more than its owner."""

    name = shapes.TextField(max_length=100)
    scopes = shapes.ListField(child=shapes.ChoiceField(choices=SCOPES), min_length=1, max_length=len(SCOPES))
    expires_at = shapes.AwareDateTimeField(help_text="At most two years from now.")


class KeyByKey(Forbidden):
    """A stolen key must not be able to prolong itself."""

    code = "key_by_key"
    title = "Keys are made at a log-in, not by another key."


class OwnDoor(Door):
    """A door of what belongs to the caller, whatever the site."""

    site_field = None

    @property
    def user(self) -> Any:
        """Return the caller, who is signed in."""
        return self.request.user


class ApiKeys(OwnDoor, CreateDoor, ListDoor):
    """The caller's own keys."""

    noun, room = "api_key", "people"
    needs = {"GET": SIGNED_IN, "POST": SIGNED_IN}
    shape, input_shape = ApiKeyShape, ApiKeyInput
    orderings = {"-created_at": ("-created_at",), "name": ("name",)}
    # An answer kept for replay would keep the secret.
    replayable = False
    secret: str | None = None

    def rows(self) -> QuerySet[Any]:
        """Return the caller's keys."""
        return people.keys_of(self.actor.user_id)

    def act(self, data: dict[str, Any]) -> Any:
        """Make a key."""
        if self.actor.key_id is not None:
            raise KeyByKey
        key, self.secret = people_actions.issue_key(user=self.user, at=self.at, **data)
        return key

    def post(self, *args: Any, **kwargs: Any) -> Response:
        """Answer the key with its secret, kept by no cache."""
        response = super().post(*args, **kwargs)
        response.headers["Cache-Control"] = "no-store"
        return response


class ApiKey(OwnDoor, DetailDoor):
    """One of the caller's keys."""

    noun, room = "api_key", "people"
    needs = {"GET": SIGNED_IN}
    shape = ApiKeyShape

    def rows(self) -> QuerySet[Any]:
        """Return the caller's keys."""
        return people.keys_of(self.actor.user_id)


class ApiKeyRevocation(OwnDoor, ActDoor):
    """End one of the caller's keys at once."""

    operation, room = "api_key_revoke", "people"
    needs = {"POST": SIGNED_IN}
    shape = ApiKeyShape
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return the caller's keys."""
        return people.keys_of(self.actor.user_id)

    def act(self, obj: Any, data: dict[str, Any]) -> Any:  # noqa: ARG002 - the door's form
        """Revoke it."""
        return people_actions.revoke_key(user=self.user, key_id=obj.pk, at=self.at)
