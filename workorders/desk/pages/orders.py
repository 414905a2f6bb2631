"""Work orders: the list, one order, and the moves that may be made from it."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from findings.plant.rules import Right
from plantcare.api.failures import refusal_of
from plantcare.api.problems import NotFound
from plantcare.web.pages import REFUSED
from workorders.desk.pages.base import DeskPage
from workorders.desk.pages.forms import MOVE_FORMS, ActForm
from workorders.desk.queries import costs, history, sites
from workorders.desk.queries.orders import (
    OrderFilter,
    findings_of,
    findings_of_each,
    order_list,
    order_seen,
)
from workorders.desk.rules import clocks, words
from workorders.orders import actions
from workorders.orders.queries import clocks_of, shut_warnings
from workorders.orders.rules import MoveName, OrderState, PriorityClass, allowed_moves

STATES = [
    ("", "all open"),
    *((state.value, words.plain(state.value)) for state in OrderState),
    ("all", "every one ever"),
]
ORDERS = [("urgent", "urgent first"), ("due", "due first"), ("newest", "newest first")]


class OrderFilterForm(forms.Form):
    """What the list is narrowed to; everything may be left empty."""

    text = forms.CharField(required=False, max_length=100, label="Title, asset or number")
    state = forms.ChoiceField(required=False, label="State", choices=STATES)
    priority = forms.ChoiceField(
        required=False, label="Priority", choices=[("", "any"), *((p.value, p.value) for p in PriorityClass)]
    )
    order = forms.ChoiceField(required=False, label="Sorted", choices=ORDERS)
    overdue = forms.BooleanField(required=False, label="Past their time")
    mine = forms.BooleanField(required=False, label="Mine")


class Orders(DeskPage):
    """Work orders, filtered and in order, fifty at a time."""

    needs: ClassVar[Mapping[str, str]] = {"GET": Right.VIEW}
    template = "desk/orders.html"
    here = "orders"

    def get(self, request: HttpRequest, code: str) -> HttpResponse:
        """Show a slice of the list."""
        site = self.see(code)
        form = OrderFilterForm(request.GET, label_suffix="")
        form.is_valid()
        given = form.cleaned_data
        wanted = OrderFilter(
            state=given.get("state", ""),
            priority=given.get("priority", ""),
            overdue=given.get("overdue", False),
            assignee_id=self.actor.user_id if given.get("mine") else None,
            text=given.get("text", ""),
        )
        order = given.get("order") or "urgent"
        found = order_list(site, wanted, order=order, after=request.GET.get("after", ""), at=self.at)
        return self.show(
            form=form,
            found=found,
            findings=findings_of_each([row.pk for row in found.rows]),
            continued=bool(request.GET.get("after")),
        )


class Order(DeskPage):
    """One order with its findings, cautions, reports and history."""

    needs: ClassVar[Mapping[str, str]] = {"GET": Right.VIEW, "POST": Right.VIEW}
    http_method_names = ["get", "head", "options"]
    template = "desk/order.html"
    here = "orders"

    def get(self, _request: HttpRequest, id: uuid.UUID) -> HttpResponse:  # noqa: A002 - the route's word
        """Show the order."""
        return self.shown(self.load(id))

    def load(self, order_id: uuid.UUID) -> Any:
        """Return the order when it is on one of the person's sites."""
        return self.seen(order_seen(order_id, self.site_ids(), self.at))

    def shown(
        self, order: Any, *, sent: ActForm | None = None, move: str = "", **context: Any
    ) -> HttpResponse:
        """Show the order with the forms of the moves that are open to the person."""
        held = findings_of(order.pk)
        return self.show(
            order=order,
            findings=held,
            warnings=shut_warnings(order, self.at),
            prices=costs.costs_at(self.site, self.at),
            clocks=[
                (clocks.name_of(one), clocks.clock_told(one, self.site.time_zone))
                for one in clocks_of([order], self.at)[order.pk]
            ],
            reports=history.reports_of([order.pk]),
            entries=history.entries_about([order.pk]),
            judgeable=history.readings_after_repair([finding.pk for finding in held])
            if Right.VERIFY in self.rights
            else [],
            moves=self._forms(order, sent, move),
            **context,
        )

    def form_for(self, order: Any, name: MoveName, data: Any = None) -> ActForm:
        """Return the form of a move of this order."""
        usual, dangerous = MOVE_FORMS[name]
        people = sites.people_with(self.site, Right.REPAIR) if name is MoveName.SCHEDULE else ()
        initial = {"version": order.version, "assignee": order.assignee_id or "", "repaired_at": self.now()}
        form = dangerous if order.is_safety else usual
        return form(data, zone=self.site.time_zone, people=people, initial=initial, auto_id=f"{name}-%s")

    def _forms(self, order: Any, sent: ActForm | None, move: str) -> list[tuple[str, ActForm]]:
        state = OrderState(order.state)
        open_to_me = {row.name for row in allowed_moves(state, self.rights) if self._offered(row)}
        names = [name for name in MOVE_FORMS if name in open_to_me or name == move]
        return [
            (name.value, sent if sent is not None and name == move else self.form_for(order, name))
            for name in names
        ]

    @staticmethod
    def _offered(row: Any) -> bool:
        """Leave out the way of closing that takes a verdict: it is offered beside the reading."""
        return row.name is not MoveName.CLOSE or row.right is Right.CLOSE_BY_REASON


class OrderMove(Order):
    """Take one move: the same call as the API's door makes."""

    http_method_names = ["post", "options"]

    def post(self, request: HttpRequest, id: uuid.UUID, name: str) -> HttpResponse:  # noqa: A002
        """Move the order and go back to it; a refusal is shown beside the form."""
        if name not in {move.value for move in MOVE_FORMS}:
            raise NotFound
        order = self.load(id)
        form = self.form_for(order, MoveName(name), request.POST)
        if not form.is_valid():
            return self.shown(order, sent=form, move=name, refused=name, status=400)
        try:
            actions.move(
                actor=self.actor,
                at=self.at,
                order_id=order.pk,
                name=MoveName(name),
                evidence=form.evidence(),
                rights=self.rights,
                version=form.cleaned_data["version"],
            )
        except REFUSED as exc:
            refusal, fresh = refusal_of(exc), self.load(id)
            why = form.refuse(refusal, fresh.version)
            return self.shown(fresh, sent=form, move=name, refused=name, why=why, status=refusal.status)
        return redirect("desk_order", id=order.pk)
