"""The forms of a walk along a seam, made for a thumb on a phone."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django import forms

from plantcare.api.problems import Refusal
from workorders.desk.pages.forms import in_bounds


def number_field(label: str, help_text: str = "", **options: Any) -> forms.FloatField:
    """Return a field for a number, with the phone's keys for one."""
    widget = forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"})
    return forms.FloatField(label=label, help_text=help_text, widget=widget, **options)


class WalkForm(forms.Form):
    """A form that carries the sender's own key, so that a second tap does nothing."""

    client_id = forms.CharField(widget=forms.HiddenInput, max_length=100)

    def __init__(self, data: Any = None, **options: Any) -> None:
        options.setdefault("label_suffix", "")
        options["initial"] = {"client_id": str(uuid.uuid4()), **options.get("initial", {})}
        super().__init__(data, **options)

    def refuse(self, refusal: Refusal) -> list[str]:
        """Put each error beside its field and return what is left to say above them."""
        texts = [refusal.detail]
        for error in refusal.errors:
            name = error.pointer.rpartition("/")[2]
            if name in self.fields:
                self.add_error(name, error.detail)
            else:
                texts.append(error.detail)
        return list(dict.fromkeys(texts))


class BeginWalk(WalkForm):
    """The check of the source, before anybody walks."""

    begun_at = forms.CharField(widget=forms.HiddenInput, max_length=40)
    open_level_db = number_field(
        "Through the open door, source on (dB)", "At the walk’s distance, peak held."
    )
    background_db = number_field("At the same place, source off (dB)")
    distance_m = number_field(
        "Distance from detector to seam (m)", "The same for both readings and the walk."
    )
    instrument_id = forms.TypedChoiceField(
        label="Detector", coerce=uuid.UUID, empty_value=None, required=False
    )
    insist = forms.BooleanField(label="Walk all the same, although nothing can pass", required=False)

    def __init__(self, data: Any = None, *, instruments: Sequence[tuple[str, str]], **options: Any) -> None:
        super().__init__(data, **options)
        field: Any = self.fields["instrument_id"]
        field.choices = [("", "not said"), *instruments]

    def clean_begun_at(self) -> datetime:
        """Read the moment at which the form was opened."""
        try:
            moment = datetime.fromisoformat(self.cleaned_data["begun_at"])
        except ValueError:
            moment = None
        if moment is None or moment.tzinfo is None:
            message = "Load the page again: the moment of the beginning is missing."
            raise forms.ValidationError(message)
        in_bounds(moment)
        return moment


class AddPlace(WalkForm):
    """One place along the seam."""

    position_m = number_field("Place along the seam (m)", min_value=0)
    level_db = number_field("Held peak there (dB)")
    background_db = number_field("Background there, if it differs (dB)", required=False)
    note = forms.CharField(label="Note", max_length=500, required=False)
