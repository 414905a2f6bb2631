"""One finding: danger first, then what, where, how much, and everything that ever happened to it."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Any, ClassVar, Final

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from findings.kinds.base import Kind, Medium
from findings.kinds.cautions import cautions
from findings.plant.rules import Right
from findings.register.queries import mass_flow_kg_per_s, release_now, shown_assessment
from findings.seals.rules import CONVENTIONS, NOT_SAID
from plantcare.api.failures import refusal_of
from plantcare.api.problems import NotFound
from plantcare.web.pages import REFUSED
from workorders.desk.pages.acts import ACTS, Act, Sent, allowed
from workorders.desk.pages.base import DeskPage
from workorders.desk.pages.forms import ActForm, Verify
from workorders.desk.pages.recording_form import RecordingForm
from workorders.desk.queries import costs, history, notices, seams, sites
from workorders.desk.queries.discharge import DischargeTold, discharge_told
from workorders.desk.queries.findings import figures_of, finding_seen, same_place
from workorders.desk.queries.recordings import recordings_told
from workorders.desk.queries.wear import wear_told
from workorders.desk.rules.figures import level, time_of

MOST_KEPT: Final = 5


class Finding(DeskPage):
    """One finding with the forms of the acts that are open to the person."""

    needs: ClassVar[Mapping[str, str]] = {"GET": Right.VIEW, "POST": Right.VIEW}
    http_method_names = ["get", "head", "options"]
    template = "desk/finding.html"
    here = "findings"
    _discharge: DischargeTold | None = None

    def get(self, _request: HttpRequest, id: uuid.UUID) -> HttpResponse:  # noqa: A002 - the route's word
        """Show the finding."""
        return self.shown(self.load(id))

    def load(self, finding_id: uuid.UUID) -> Any:
        """Return the finding when it is on one of the person's sites."""
        return self.seen(finding_seen(finding_id, self.site_ids()))

    def shown(
        self,
        finding: Any,
        *,
        sent: ActForm | None = None,
        act: str = "",
        sent_recording: RecordingForm | None = None,
        **context: Any,
    ) -> HttpResponse:
        """Show everything about it."""
        prices = costs.costs_at(self.site, self.at)
        self._discharge = discharge_told(finding, self.at)
        story = history.story_of(finding)
        medium = Medium(finding.medium) if finding.medium else None
        rates = (
            finding.leak_rate_m3_per_s,
            finding.leak_rate_low_m3_per_s,
            finding.leak_rate_high_m3_per_s,
        )
        is_known = finding.leak_rate_m3_per_s is not None
        per_hour = [prices.per_hour(finding.system_id, rate if is_known else None) for rate in rates]
        shown = shown_assessment(finding)
        return self.show(
            finding=finding,
            story=story,
            noted=any(one.reading.note or one.reading.warnings for one in story.evidence),
            cautions=cautions(Kind(finding.kind), medium),
            cost=figures_of(finding, self.at),
            per_hour=per_hour[0],
            per_hour_low=per_hour[1],
            per_hour_high=per_hour[2],
            assessment=shown,
            only_history=_only_history(story, finding, shown),
            release=release_now(finding),
            discharge=self._discharge,
            wear=wear_told(finding, self.site.time_zone),
            mass_flow=mass_flow_kg_per_s(finding, finding.leak_rate_m3_per_s),
            open_order=next((order for order in story.orders if order.ended_at is None), None),
            others=same_place(finding),
            asked=notices.step_of(finding, self.rights),
            forms=self._forms(finding, story, sent, act),
            recordings=recordings_told(story.evidence),
            recording_form=sent_recording or self._recording_form(story),
            **self._along_the_seam(finding),
            **context,
        )

    def _recording_form(self, story: history.Story) -> RecordingForm | None:
        """Return the form for those who may record, where there is a reading to record for."""
        if not story.evidence or Right.RECORD not in self.rights:
            return None
        return RecordingForm(zone=self.site.time_zone, evidence=story.evidence)

    def _along_the_seam(self, finding: Any) -> dict[str, Any]:
        """Return the last walk along the finding's seam, and the seam to walk again."""
        if finding.kind != Kind.ENCLOSURE_LEAK:
            return {}
        walked = seams.last_walk_at(finding.point_id)
        return {
            "walked": walked,
            "seam": seams.seam_now(finding.point_id, self.at),
            "convention": "" if walked is None else CONVENTIONS[walked.walk.seam.criterion],
            "not_said": NOT_SAID,
        }

    def form_for(self, finding: Any, act: Act, story: history.Story, data: Any = None) -> ActForm:
        """Return the form of an act on this finding."""
        people = sites.people_with(self.site, Right.REPAIR) if act.names_people else ()
        form = act.form(
            data,
            zone=self.site.time_zone,
            people=people,
            initial={"version": finding.version},
            auto_id=f"{act.name}-%s",
        )
        if isinstance(form, Verify):
            form.offer(self._judging(finding, story), electrical=finding.kind == Kind.ELECTRICAL_DISCHARGE)
        return form

    def _judging(self, finding: Any, story: history.Story) -> list[tuple[str, str]]:
        judged = {one.reading_id for one in story.verifications}
        after = [
            one.reading
            for one in story.evidence
            if finding.repaired_at is not None
            and one.reading.taken_at >= finding.repaired_at
            and one.reading.pk not in judged
        ]
        zone = self.site.time_zone
        return [(str(one.pk), f"{time_of(one.taken_at, zone)}, {level(one.level_db)}") for one in after[::-1]]

    def _fits(self, act: Act, finding: Any, *, ordered: bool) -> bool:
        """Say whether an act is offered: a release of what is shut, a new judgement of one that stands."""
        if not allowed(act, finding.status, finding.kind, self.rights, ordered=ordered):
            return False
        told = self._discharge
        if told is None or not act.kind:
            return True
        return told.kept_shut if act.name == "release" else told.standing is not None

    def _forms(
        self, finding: Any, story: history.Story, sent: ActForm | None, name: str
    ) -> list[tuple[str, ActForm]]:
        ordered = any(order.ended_at is None for order in story.orders)
        offered = []
        for act in ACTS.values():
            if sent is not None and act.name == name:
                offered.append((act.name, sent))
            elif self._fits(act, finding, ordered=ordered):
                form = self.form_for(finding, act, story)
                if not isinstance(form, Verify) or self._judging(finding, story):
                    offered.append((act.name, form))
        return offered


def _only_history(story: history.Story, finding: Any, shown: Any) -> list[Any]:
    """Return the results that are kept beside the one shown, of the present opening, newest first."""
    kept = [
        one
        for one in story.assessments
        if one.leak_rate_m3_per_s is not None and one != shown and one.at >= finding.opened_at
    ]
    return kept[::-1][:MOST_KEPT]


class FindingAct(Finding):
    """Do one act: the same call as the API's door makes."""

    http_method_names = ["post", "options"]

    def post(self, request: HttpRequest, id: uuid.UUID, name: str) -> HttpResponse:  # noqa: A002
        """Act and go back to the finding; a refusal is shown beside the form."""
        if name not in ACTS:
            raise NotFound
        act, finding = ACTS[name], self.load(id)
        if act.kind not in {"", finding.kind}:
            raise NotFound
        self.require(act.right)
        form = self.form_for(finding, act, history.story_of(finding), request.POST)
        if not form.is_valid():
            return self.shown(finding, sent=form, act=name, refused=name, status=400)
        try:
            act.call(
                Sent(
                    actor=self.actor,
                    at=self.at,
                    finding_id=finding.pk,
                    version=form.cleaned_data["version"],
                    rights=self.rights,
                    given=form.evidence(),
                )
            )
        except REFUSED as exc:
            refusal, fresh = refusal_of(exc), self.load(id)
            why = form.refuse(refusal, fresh.version)
            return self.shown(fresh, sent=form, act=name, refused=name, why=why, status=refusal.status)
        return redirect("desk_finding", id=finding.pk)
