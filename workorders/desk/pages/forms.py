"""The small forms of acts: what each one asks, and how the answer is named for the action that takes it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from enum import StrEnum
from typing import Any, ClassVar

from django import forms
from django.utils import timezone

from findings.deferrals.rules import DeferralReason
from findings.register.rules import ClosureReason, DismissReason
from plantcare.api.problems import Refusal
from workorders.desk.queries.sites import Person
from workorders.desk.rules import words
from workorders.orders.rules import CancelReason, MoveName, RepairOutcome, WaitReason

AT = "%Y-%m-%dT%H:%M"


def choices_of(words_: Iterable[StrEnum]) -> list[tuple[str, str]]:
    """Return the words of an enum as choices, none chosen beforehand."""
    return [("", "choose"), *((word.value, words.plain(word.value)) for word in words_)]


def in_bounds(moment: datetime) -> None:
    """Refuse years that are slips of the finger; the database cannot hold all of them."""
    if not 1990 <= moment.year <= 2200:
        message = "The year must lie between 1990 and 2200."
        raise forms.ValidationError(message)


def moment_field(label: str, **options: Any) -> forms.DateTimeField:
    """Return a field for a moment by the site's clocks."""
    widget = forms.DateTimeInput(format=AT, attrs={"type": "datetime-local"})
    formats = [AT, f"{AT}:%S"]
    return forms.DateTimeField(
        label=label, input_formats=formats, widget=widget, validators=[in_bounds], **options
    )


def long_field(label: str, **options: Any) -> forms.CharField:
    """Return a field for a few sentences."""
    widget = forms.Textarea(attrs={"rows": 3})
    return forms.CharField(label=label, max_length=4000, widget=widget, **options)


class ActForm(forms.Form):
    """A form of one act; it carries the version that its sender saw."""

    button: ClassVar[str] = ""
    about: ClassVar[str] = ""
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=2_000_000_000)

    def __init__(self, data: Any = None, *, zone: str, people: Sequence[Person] = (), **options: Any) -> None:
        self.zone = zone
        options.setdefault("label_suffix", "")
        super().__init__(data, **options)
        if "assignee" in self.fields:
            field: Any = self.fields["assignee"]
            field.choices = [("", "nobody yet"), *((str(one.user_id), one.name) for one in people)]

    def full_clean(self) -> None:
        """Read moments by the site's clocks, whatever zone the process is in."""
        with timezone.override(self.zone):
            super().full_clean()

    def refuse(self, refusal: Refusal, version: int) -> list[str]:
        """Put each error beside its field and return what is left to say above them.

        The form carries the version that its sender sees now, so that it can be sent again after a look.
        """
        self.data = {**dict(self.data.items()), "version": str(version)}
        said = refusal.detail
        for name, field in self.fields.items():
            said = said.replace(name, f"“{field.label}”") if "_" in name else said
        texts = [said]
        for error in refusal.errors:
            name = error.pointer.removeprefix("/")
            if name in self.fields:
                self.add_error(name, error.detail)
            else:
                texts.append(error.detail)
        return list(dict.fromkeys(texts))

    def evidence(self) -> dict[str, object]:
        """Return what was given, without the version and without what was left empty."""
        given = {name: value for name, value in self.cleaned_data.items() if name != "version"}
        return {name: value for name, value in given.items() if value not in ("", None, [])}


class Release(ActForm):
    """A draft becomes work."""

    button = "Release"


class Schedule(ActForm):
    """When and by whom."""

    button = "Schedule"
    scheduled_for = moment_field("When")
    assignee = forms.TypedChoiceField(label="By whom", coerce=int)


class Start(ActForm):
    """The work begins."""

    button = "Start work"


class StartDangerous(Start):
    """The work begins on something that can hurt."""

    isolation_confirmed = forms.BooleanField(
        label="It is isolated, bled and locked out under the site’s procedure, and proven so",
        error_messages={"required": "Work on this starts only once the isolation is confirmed."},
    )


class Wait(ActForm):
    """The work cannot go on."""

    button = "Let it wait"
    wait_reason = forms.ChoiceField(label="For what", choices=choices_of(WaitReason))
    text = forms.CharField(label="More about it", max_length=200, required=False)


class Resume(ActForm):
    """The work can go on."""

    button = "Ready again"


class ReportRepair(ActForm):
    """What was done."""

    button = "Report a repair"
    about = "A reported repair stays open until a reading shows that it held."
    outcome = forms.ChoiceField(label="What came of it", choices=choices_of(RepairOutcome))
    action_taken = long_field("What was done")
    repaired_at = moment_field("When it was done", required=False)
    cause = forms.CharField(label="Cause", max_length=200, required=False)
    parts = forms.CharField(
        label="Parts used", max_length=1000, required=False, help_text="Separated by commas."
    )
    labour_hours = forms.DecimalField(
        label="Hours of work", required=False, min_value=0, max_digits=8, decimal_places=2
    )
    cost = forms.DecimalField(
        label="Cost of parts and outside work", required=False, min_value=0, max_digits=14, decimal_places=2
    )

    def evidence(self) -> dict[str, object]:
        """Return what was given; parts as a list, the words also as the free text."""
        given = super().evidence()
        parts = [part.strip()[:200] for part in str(given.pop("parts", "")).split(",") if part.strip()]
        return {**given, "text": given["action_taken"], **({"parts": parts} if parts else {})}


class ReportDangerousRepair(ReportRepair):
    """What was done on something that can hurt."""

    isolation_confirmed = forms.BooleanField(
        label="It was isolated while work went on, and is closed and safe again", required=False
    )


class CloseByReason(ActForm):
    """An end without a reading."""

    button = "Close without a reading"
    about = "Only where no reading can show it; the reason stays in the records under your name."
    closure_reason = forms.ChoiceField(label="Reason", choices=choices_of(ClosureReason))
    closure_text = long_field("In your words", min_length=10)


class Cancel(ActForm):
    """An end without work."""

    button = "Cancel"
    cancel_reason = forms.ChoiceField(label="Reason", choices=choices_of(CancelReason))
    text = forms.CharField(label="More about it", max_length=500, required=False)


MOVE_FORMS: Mapping[MoveName, tuple[type[ActForm], type[ActForm]]] = {
    MoveName.RELEASE: (Release, Release),
    MoveName.SCHEDULE: (Schedule, Schedule),
    MoveName.START: (Start, StartDangerous),
    MoveName.REPORT_REPAIR: (ReportRepair, ReportDangerousRepair),
    MoveName.WAIT: (Wait, Wait),
    MoveName.RESUME: (Resume, Resume),
    MoveName.CLOSE: (CloseByReason, CloseByReason),
    MoveName.CANCEL: (Cancel, Cancel),
}
"""The form of each move, and the one for an order that can hurt; reopening takes a reading elsewhere."""


class OpenOrder(ActForm):
    """Give it to a trade."""

    button = "Open a work order"
    title = forms.CharField(label="Title", max_length=200, required=False, help_text="Empty: made for you.")
    instructions = long_field("Instructions", required=False)
    assignee = forms.TypedChoiceField(label="By whom", coerce=int, required=False, empty_value=None)


class Dismiss(ActForm):
    """It was never a fault."""

    button = "Dismiss"
    about = "Its money is taken back by a dated correction."
    dismiss_reason = forms.ChoiceField(label="Reason", choices=choices_of(DismissReason))
    text = long_field("In your words", min_length=10)


class Defer(ActForm):
    """It may wait."""

    button = "Ask to let it wait"
    about = "Somebody else approves it. A safety finding waits 30 days at most and never for money."
    reason = forms.ChoiceField(label="Reason", choices=choices_of(DeferralReason))
    text = long_field("Why it may wait", min_length=10)
    until_at = moment_field("Until when")
    interim_measures = long_field(
        "What is done meanwhile", required=False, help_text="Needed for a safety finding."
    )


class Verify(ActForm):
    """Judge the repair by one of the readings after it."""

    button = "Judge the repair"
    about = "The reading is compared with the one before the repair; the verdict follows from the rules."
    reading_id = forms.ChoiceField(label="Reading after the repair")

    energised = forms.BooleanField(label="The gear was live while it was listened to", required=False)
    qualified = forms.BooleanField(label="I am qualified for this electrical gear", required=False)

    def offer(self, readings: Sequence[tuple[str, str]], *, electrical: bool) -> None:
        """Name the readings that can judge; only electrical gear takes the statement."""
        field: Any = self.fields["reading_id"]
        field.choices = readings
        if not electrical:
            del self.fields["energised"], self.fields["qualified"]
