"""Every act on the plant's own record."""

from findings.plant.actions.assets import (
    AssetDecommissioned,
    AssetInService,
    UnderItself,
    add_asset,
    change_asset,
    decommission_asset,
    recommission_asset,
)
from findings.plant.actions.batches import NewAsset, NewPoint, add_assets, add_points
from findings.plant.actions.members import (
    LastManager,
    MembershipEnded,
    RoleHeld,
    add_membership,
    end_membership,
    person_named,
)
from findings.plant.actions.points import add_point, change_point
from findings.plant.actions.refusals import (
    CodeTaken,
    OtherSite,
    SiteUnknown,
    code_constraint,
    free_code,
    named,
    refuse,
    same_site,
    site_of,
    unknown,
)
from findings.plant.actions.sites import add_area, add_site, change_area, change_site
from findings.plant.actions.voiding import check_reason, void_row

__all__ = [
    "AssetDecommissioned",
    "AssetInService",
    "CodeTaken",
    "LastManager",
    "MembershipEnded",
    "NewAsset",
    "NewPoint",
    "OtherSite",
    "RoleHeld",
    "SiteUnknown",
    "UnderItself",
    "add_area",
    "add_asset",
    "add_assets",
    "add_membership",
    "add_point",
    "add_points",
    "add_site",
    "change_area",
    "change_asset",
    "change_point",
    "change_site",
    "check_reason",
    "code_constraint",
    "decommission_asset",
    "end_membership",
    "free_code",
    "named",
    "person_named",
    "recommission_asset",
    "refuse",
    "same_site",
    "site_of",
    "unknown",
    "void_row",
]
