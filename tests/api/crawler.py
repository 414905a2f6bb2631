"""Try every operation from the wrong side of the wall between two sites.

What is tried comes from the API's own description alone, so that an operation made tomorrow is tried
tomorrow. Three signs are read, each independent of the others: the answer's status (it has to be that
of a thing that does not exist), the answer's text, and the rows in the database before and after.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from plantcare.people.models import ApiKey
from tests.api import ledger
from tests.api.asking import Answer, Asker, Question, unknown_like
from tests.api.furnishing import furnish
from tests.api.operations import Operation, Place, id_places, looks_like_id, put
from tests.api.recipes import COLLECTIONS, NAMES, Recipe, variants
from tests.api.siteplan import AT, DAY, MARKER, key_for
from tests.api.world import TwoSites

UUID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")


@dataclass(frozen=True)
class Breach:
    """One place where the wall has a hole."""

    operation: str
    probe: str
    what: str

    def __str__(self) -> str:
        return f"{self.operation}: {self.probe}: {self.what}"


def unmapped(operations: list[Operation]) -> set[str]:
    """Return the names that look like ids and of which nobody has said what they name."""
    missing = set()
    for operation in operations:
        names = {place.name for place in id_places(operation.body or {})}
        names |= {name for name, form in operation.query.items() if looks_like_id(name, form["schema"])}
        missing |= {f"{operation.id}: {name}" for name in names if name not in NAMES}
        if "id" in operation.path_names and operation.collection not in COLLECTIONS:
            missing.add(f"{operation.id}: {operation.path}")
    return missing


class Crawler:
    """Asks as a member of the home site for what belongs to the other one."""

    def __init__(self, world: TwoSites, recipes: Mapping[str, Recipe] | None = None) -> None:
        self.world, self.home, self.other = world, world.home, world.other
        self.asker = Asker(world, recipes)
        self.probes = 0
        self.granted: set[str] = set()
        self.secrets = world.secrets_of_other()
        now, user = {"at": AT - 30 * DAY}, self.home.people["owner"]
        ended = key_for(user, **now, expires_at=AT - timedelta(seconds=1))
        revoked = key_for(user)
        ApiKey.objects.filter(prefix=revoked.split("_")[1]).update(revoked_at=AT)
        self.wrong_keys = {
            "an unknown key": "pc_00000000_nothing",
            "a known key with another secret": self.home.keys["owner"][:-4] + "AAAA",
            "no key at all": "secret",
            "a key past its time": ended,
            "a revoked key": revoked,
        }
        self.own_ids = ledger.ids_of(self.home.site.pk)
        self.before = self._rows()

    def crawl(self, operation: Operation) -> list[Breach]:
        """Return every hole of an operation."""
        found = list(self._without_credentials(operation))
        for variant in variants(operation):
            found += self._owner(operation, variant)
        found += self._path(operation)
        found += self._outsider(operation)
        found += self._body(operation)
        found += self._more_members(operation)
        found += self._query(operation)
        found += self._own_reads(operation)
        found += self._of_both(operation)
        return found

    def grown(self, operations: list[Operation]) -> list[Breach]:
        """Return each read of the home site whose answer changes when only the other site grows."""
        asked = [(one, self._as_member(one)) for one in operations if one.method == "get"]
        things = dict(self.other.things)
        with ledger.undone():
            before = [self._send(one, question) for one, question in asked]
            furnish(self.other)
            after = [self._send(one, question) for one, question in asked]
        self.other.things = things
        return [
            Breach(one.id, "growth of the other site", "the answer changed")
            for (one, _), was, now in zip(asked, before, after, strict=True)
            if was.without() != now.without()
        ]

    # --- who asks -----------------------------------------------------------------------------------------

    def _without_credentials(self, operation: Operation) -> Iterator[Breach]:
        question = self.asker.question(operation, self.home)
        with ledger.undone():
            answer = self._ask(question)
            yield from self._expect(operation, "nobody", answer, 401)
            yield from self._untouched(operation, "nobody", whole=True)
        for name, key in self.wrong_keys.items():
            with ledger.undone():
                answer = self._ask(question, key)
                yield from self._expect(operation, name, answer, 401)
                yield from self._untouched(operation, name, whole=True)

    def _outsider(self, operation: Operation) -> Iterator[Breach]:
        """Ask as somebody who works at no site about a thing of the home site."""
        if "id" not in operation.path_names:
            return
        question = self.asker.question(operation, self.home)
        with ledger.undone():
            answer = self._ask(question, self.world.key_of_nowhere)
            yield from self._expect(operation, "somebody of no site", answer, 404)
            yield from self._untouched(operation, "somebody of no site", whole=True)

    def _owner(self, operation: Operation, variant: str) -> Iterator[Breach]:
        """Ask as the owner, who is granted it; what comes of it stays on this side."""
        question = self.asker.question(operation, self.home, variant=variant)
        name = f"{operation.id}:{variant}".rstrip(":")
        with ledger.undone():
            self.probes += 1
            answer = self.asker.ask_as(self.asker.recipe(operation, variant).who, question, self.home)
            if answer.ok:
                self.granted.add(name)
            yield from self._told(operation, f"the owner {variant}", answer)
            yield from self._untouched(operation, f"the owner {variant}")

    def _as_member(self, operation: Operation, variant: str = "") -> Question:
        return self.asker.question(operation, self.home, variant=variant)

    # --- whose id -----------------------------------------------------------------------------------------

    def _path(self, operation: Operation) -> Iterator[Breach]:
        """Name the other site's thing in the path."""
        if "id" not in operation.path_names:
            return
        for variant in variants(operation):
            thing = self.asker.target(operation, self.other, variant)
            own = self._as_member(operation, variant)
            foreign = self.asker.question(operation, self.home, variant=variant, thing=thing)
            nothing = unknown_like(str(thing.pk))
            unknown = foreign.but(path=foreign.path.replace(str(thing.pk), nothing))
            methods = [operation.method, *(["head"] if operation.method == "get" else [])]
            for method in methods:
                where = f"{method} path {variant}".strip()
                pair = foreign.but(method=method), unknown.but(method=method)
                yield from self._as_if_unknown(operation, where, *pair, (str(thing.pk), nothing))
                with ledger.undone():
                    answer = self._send(operation, pair[0])
                    yield from self._expect(operation, where, answer, 404)
            if own.path != foreign.path and own.body is not None:
                # The other site's whole request, sent by a member of this one.
                theirs = self.asker.question(operation, self.other, variant=variant)
                with ledger.undone():
                    answer = self._send(operation, theirs)
                    yield from self._expect(operation, f"whole request {variant}", answer, 404)
                    yield from self._untouched(operation, f"whole request {variant}")

    def _body(self, operation: Operation) -> Iterator[Breach]:
        """Put the other site's id in each member of the body, alone and in lists beside an own one."""
        for place in id_places(operation.body or {}):
            kind = NAMES.get(place.name)
            if kind is None:
                continue
            for variant in variants(operation):
                own = self._as_member(operation, variant)
                theirs = self._their_id(own, place, kind)
                nothing = unknown_like(theirs)
                given = [[self.home.ids[kind], theirs], [theirs]] if place.is_list else [theirs]
                for value in given:
                    other = (
                        [nothing if one == theirs else one for one in value]
                        if isinstance(value, list)
                        else nothing
                    )
                    yield from self._as_if_unknown(
                        operation,
                        f"body {'.'.join(place.steps)} {variant}".strip(),
                        own.but(body=put(own.body, place.steps, value)),
                        own.but(body=put(own.body, place.steps, other)),
                        (str(theirs), str(nothing)),
                        refused=self._is_used(operation, variant, place),
                    )

    def _their_id(self, own: Question, place: Place, kind: str) -> Any:
        """Return the other site's twin of the thing that the own request names there."""
        here: Any = own.body
        for step in place.steps:
            here = here[0] if step == "*" and here else here.get(step) if isinstance(here, dict) else None
        twins = {value: name for name, value in self.home.ids.items()}
        return self.other.ids[twins.get(here, kind) if isinstance(here, str | int) else kind]

    def _is_used(self, operation: Operation, variant: str, place: Place) -> bool:
        """Tell whether a member belongs to the variant that is asked; others may be left unread."""
        return not variants(operation)[1:] or place.steps[0] in (
            self.asker.recipe(operation, variant).body or {}
        )

    def _more_members(self, operation: Operation) -> Iterator[Breach]:
        """Send members that the description doesn't offer."""
        if operation.method == "get" or operation.media != "application/json":
            return
        own = self._as_member(operation)
        known = set((operation.body or {}).get("properties", ()))
        for name in ("site", "site_id", "id"):
            if name in known:
                continue
            thing = self.other.site if name != "id" else self.asker.target(operation, self.other)
            value = str(getattr(thing, "pk", self.other.site.pk))
            for steps in ((name,), ("items", "*", name)) if "items" in known else ((name,),):
                inner = (operation.body or {}).get("properties", {}).get("items", {}).get("items", {})
                if len(steps) > 1 and name in inner.get("properties", {}):
                    continue
                probe = f"more members {'.'.join(steps)}"
                with ledger.undone():
                    answer = self._send(operation, own.but(body=put(own.body, steps, value)))
                    if not answer.did_nothing:
                        yield Breach(operation.id, probe, "a member that isn't offered was taken")
                    yield from self._untouched(operation, probe)

    def _query(self, operation: Operation) -> Iterator[Breach]:
        """Ask for the other site's things by id and by word."""
        own = self._as_member(operation)
        for name, told in operation.query.items():
            kind = NAMES.get(name)
            if kind is not None:
                theirs = str(self.other.ids[kind])
                nothing = str(unknown_like(theirs))
                yield from self._as_if_unknown(
                    operation,
                    f"query {name}",
                    own.but(query={**own.query, name: theirs}),
                    own.but(query={**own.query, name: nothing}),
                    (theirs, nothing),
                    refused=False,
                )
            elif told["schema"].get("type") == "string" and "enum" not in told["schema"]:
                for word in (MARKER, self.other["asset"].code, self.other["point"].code):
                    with ledger.undone():
                        answer = self._send(operation, own.but(query={**own.query, name: word}))
                        yield from self._told(operation, f"query {name}", answer, word, word.lower())

    # --- what is told -------------------------------------------------------------------------------------

    def _own_reads(self, operation: Operation) -> Iterator[Breach]:
        """Read as a member, in every order and with everything that can be had beside it."""
        if operation.method != "get":
            return
        own = self._as_member(operation)
        asked: list[dict[str, Any]] = [{}]
        for name in ("expand", "ordering", "units"):
            form = operation.query.get(name, {}).get("schema", {})
            if name == "expand" and form:
                asked.append({name: ",".join(form["items"]["enum"])})
            asked += [{name: value} for value in form.get("enum", ())]
        if operation.is_list:
            asked.append({"limit": 200})
        for query in asked:
            with ledger.undone():
                answer = self._send(operation, own.but(query={**own.query, **query}))
                yield from self._expect(operation, f"own read {query}", answer, 200)
                yield from self._told(operation, f"own read {query}", answer)
        for name, told in operation.query.items():
            for value in told["schema"].get("enum", ()) if name not in ("ordering", "units") else ():
                with ledger.undone():
                    answer = self._send(operation, own.but(query={**own.query, name: value}))
                    yield from self._told(operation, f"own read {name}={value}", answer)
        if operation.is_list:
            yield from self._their_page(operation, own)

    def _their_page(self, operation: Operation, own: Question) -> Iterator[Breach]:
        """Go on from a page of the other site."""
        theirs = self.asker.question(operation, self.other)
        page = self._ask(theirs.but(query={**theirs.query, "limit": 1}), self.other.keys["owner"])
        following = (page.data or {}).get("next") or ""
        cursor = following.partition("cursor=")[2].partition("&")[0]
        if cursor:
            with ledger.undone():
                answer = self._send(operation, own.but(query={**own.query, "cursor": cursor}))
                yield from self._told(operation, "the other site's cursor", answer, cursor)

    def _of_both(self, operation: Operation) -> Iterator[Breach]:
        """Ask as somebody who works at both sites: nothing may point across, nothing may move across."""
        for place in id_places(operation.body or {}):
            kind = NAMES.get(place.name)
            if kind is None or self.asker.recipe(operation).who != "owner":
                continue
            own = self._as_member(operation)
            thing = self.asker.target(operation, self.home)
            theirs = self._their_id(own, place, kind)
            with ledger.undone():
                answer = self._ask(own.but(body=put(own.body, place.steps, theirs)), self.world.key_of_both)
                probe = f"member of both, body {'.'.join(place.steps)}"
                yield from self._across(operation, probe, answer)
                if hasattr(thing, "site_id") and thing is not None:
                    place_now = type(thing).objects.values_list("site_id", flat=True).get(pk=thing.pk)
                    if place_now != thing.site_id:
                        yield Breach(operation.id, probe, "the thing moved to the other site")

    # --- the three signs ----------------------------------------------------------------------------------

    def _as_if_unknown(
        self,
        operation: Operation,
        probe: str,
        foreign: Question,
        unknown: Question,
        sent: tuple[str, str],
        *,
        refused: bool = True,
    ) -> Iterator[Breach]:
        with ledger.undone():
            answer = self._send(operation, foreign)
            yield from self._told(operation, probe, answer, *sent)
            yield from self._untouched(operation, probe, sent=sent)
        with ledger.undone():
            blank = self._send(operation, unknown)
        if refused and not answer.did_nothing:
            yield Breach(operation.id, probe, f"granted with {answer.status}")
        plain, unknown_plain = self._plain(answer, sent), self._plain(blank, sent)
        if plain != unknown_plain:
            yield Breach(operation.id, probe, f"answers {plain} but to an unknown id {unknown_plain}")

    def _plain(self, answer: Answer, sent: tuple[str, str]) -> str:
        """Return an answer without what was sent, and without the ids of what it has just made."""
        return UUID.sub(lambda one: one[0] if one[0] in self.own_ids else "<new>", answer.without(*sent))

    def _expect(self, operation: Operation, probe: str, answer: Answer, status: int) -> Iterator[Breach]:
        if answer.status != status:
            yield Breach(operation.id, probe, f"{answer.status} in place of {status}: {answer.text[:300]}")

    def _told(self, operation: Operation, probe: str, answer: Answer, *sent: str) -> Iterator[Breach]:
        """Search an answer for anything of the other site that was not sent."""
        text = f"{answer.text} {answer.headers}".lower()
        for one in sent:
            text = text.replace(one.lower(), "")
        told = sorted(secret for secret in self.secrets if secret in text)
        if told:
            yield Breach(operation.id, probe, f"tells {told[:3]}")
        if answer.status >= 500:
            yield Breach(operation.id, probe, f"fails with {answer.status}")

    def _untouched(
        self, operation: Operation, probe: str, *, whole: bool = False, sent: tuple[str, ...] = ()
    ) -> Iterator[Breach]:
        """Compare the rows of the other site, or of both, with those before."""
        now = self._rows()
        for here in ("other", "home") if whole else ("other",):
            changed = [table for table, rows in now[here].items() if rows != self.before[here][table]]
            if changed:
                yield Breach(operation.id, probe, f"changed rows of the {here} site in {changed}")
        if now["home"] != self.before["home"]:
            site, people = self.home.site.pk, self.other.person_ids
            stained = ledger.stained(site, self.secrets, people)
            if stained:
                yield Breach(operation.id, probe, f"rows of the home site hold the other's: {stained}")
        yield from self._crossed(operation, probe)

    def _across(self, operation: Operation, probe: str, answer: Answer) -> Iterator[Breach]:
        if answer.status >= 500:
            yield Breach(operation.id, probe, f"fails with {answer.status}")
        yield from self._crossed(operation, probe)

    def _crossed(self, operation: Operation, probe: str) -> Iterator[Breach]:
        crossings = ledger.crossings()
        if crossings:
            yield Breach(operation.id, probe, f"rows point across: {crossings}")

    def _rows(self) -> dict[str, dict[str, str]]:
        return {
            name: ledger.rows_of(place.site.pk, place.person_ids)
            for name, place in (("home", self.home), ("other", self.other))
        }

    def _send(self, operation: Operation, question: Question) -> Answer:
        """Ask as a member of the home site with every right there."""
        self.probes += 1
        return self.asker.ask_as(self.asker.recipe(operation).who, question, self.home)

    def _ask(self, question: Question, key: str | None = None) -> Answer:
        self.probes += 1
        return self.asker.ask(question, key)
