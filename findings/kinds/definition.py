"""What the rest of the service knows about one kind of finding."""

from dataclasses import dataclass

from findings.kinds.base import Kind, Medium
from findings.kinds.cautions import Caution, cautions
from findings.kinds.hazards import HazardClass, hazard


@dataclass(frozen=True)
class KindOfFinding:
    """A kind: its English label, the evidence it takes, its media, and how it is heard.

    ``takes`` names evidence fields with their units; ``needs`` those without which it isn't recorded;
    ``loses_gas`` says whether it has a flow and a cost.
    """

    kind: Kind
    label: str
    heard_by: str
    takes: frozenset[str]
    needs: frozenset[str]
    media: frozenset[Medium]
    loses_gas: bool

    def hazard(self, medium: Medium | None) -> HazardClass:
        """Return the danger this kind carries on a medium."""
        return hazard(self.kind, medium)

    def cautions(self, medium: Medium | None) -> tuple[Caution, ...]:
        """Return the cautions this kind carries on a medium."""
        return cautions(self.kind, medium)

    def problems_of_medium(self, medium: Medium | None) -> tuple[str, ...]:
        """Return why this kind can't be on a medium; a kind without media wants none."""
        if medium is None:
            return ("medium_missing",) if self.media else ()
        return () if medium in self.media else ("medium_not_of_this_kind",)
