"""The five kinds and what they take."""

import pytest

from findings.kinds.base import Kind, Medium
from findings.kinds.registry import KINDS, kind_of


class TestKindOf:
    @pytest.mark.parametrize("kind", list(Kind))
    def test_finds_every_kind(self, kind):
        assert kind_of(kind.value).kind is kind

    def test_refuses_another_word(self):
        with pytest.raises(ValueError, match="noise"):
            kind_of("noise")


class TestDefinition:
    @pytest.mark.parametrize("definition", KINDS.values(), ids=lambda definition: definition.kind)
    def test_needs_only_what_it_takes(self, definition):
        assert definition.needs <= definition.takes

    @pytest.mark.parametrize(
        ("kind", "medium", "problems"),
        [
            (Kind.PRESSURE_LEAK, Medium.NITROGEN, ()),
            (Kind.PRESSURE_LEAK, Medium.VACUUM, ("medium_not_of_this_kind",)),
            (Kind.PRESSURE_LEAK, None, ("medium_missing",)),
            (Kind.VACUUM_LEAK, Medium.VACUUM, ()),
            (Kind.ELECTRICAL_DISCHARGE, None, ()),
            (Kind.ELECTRICAL_DISCHARGE, Medium.STEAM, ("medium_not_of_this_kind",)),
        ],
    )
    def test_knows_its_media(self, kind, medium, problems):
        assert kind_of(kind).problems_of_medium(medium) == problems

    def test_carries_hazard_and_cautions(self):
        definition = kind_of(Kind.PRESSURE_LEAK)

        assert (definition.hazard(Medium.OXYGEN).safety, definition.cautions(Medium.OXYGEN)[0].key) == (
            True,
            "oxygen",
        )
