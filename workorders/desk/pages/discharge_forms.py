"""The forms of what is done about a discharge: judge it anew, release what it keeps shut."""

from __future__ import annotations

from django import forms

from findings.panels.rules import Technique
from findings.sound.discharge import Sound
from workorders.desk.pages.forms import ActForm, choices_of, long_field, moment_field


class Overrule(ActForm):
    """Another class in the place of the one that stands."""

    button = "Judge it anew"
    about = "Both judgements are kept and shown. What is kept shut stays shut until it is released."
    sound = forms.ChoiceField(label="It sounds like", choices=choices_of(Sound))
    reason = long_field("Why, in your words", min_length=10)


class ReleaseOpening(ActForm):
    """A qualified person lets it be opened."""

    button = "Release the opening"
    about = (
        "For confirmed qualified electrical persons only. Local code and the site’s permits decide; any "
        "discharge judged later withdraws the release."
    )
    technique = forms.ChoiceField(label="Examined by", choices=choices_of(Technique))
    found = long_field("What that showed", min_length=10)
    conditions = long_field("On which conditions it may be opened", min_length=10)
    until_at = moment_field("Until when", help_text="31 days at most.")
