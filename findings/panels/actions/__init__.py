"""State a panel's particulars, confirm who is qualified, judge discharges, overrule, release openings."""

from findings.panels.actions.judging import judge_discharge
from findings.panels.actions.overruling import overrule
from findings.panels.actions.particulars import (
    ParticularsStated,
    ParticularsVoid,
    add_particulars,
    void_particulars,
)
from findings.panels.actions.qualifying import (
    QualificationVoid,
    QualifiedByThemselves,
    confirm_qualification,
    void_qualification,
)
from findings.panels.actions.releasing import (
    NotKeptShut,
    NotQualified,
    OverruledByTheSame,
    ReleaseVoid,
    release_opening,
    void_release,
)

__all__ = [
    "NotKeptShut",
    "NotQualified",
    "OverruledByTheSame",
    "ParticularsStated",
    "ParticularsVoid",
    "QualificationVoid",
    "QualifiedByThemselves",
    "ReleaseVoid",
    "add_particulars",
    "confirm_qualification",
    "judge_discharge",
    "overrule",
    "release_opening",
    "void_particulars",
    "void_qualification",
    "void_release",
]
