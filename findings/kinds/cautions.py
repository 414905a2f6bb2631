"""What to tell the person who stands before a finding; sites may add, never take away.

The texts remind, they don't authorise: local codes, the site's permits and licensed trades decide.
"""

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import NamedTuple

from findings.kinds.base import Hazard, Kind, Medium
from findings.kinds.hazards import hazard
from findings.physics.safety import CautionKey


class Caution(NamedTuple):
    """A caution: its key, its text, and the public rule it rests on."""

    key: str
    text: str
    basis: str


_TEXTS: dict[CautionKey, tuple[str, str]] = {
    CautionKey.FUEL_GAS: (
        (
            "Keep flames, sparks, switches and telephones away, air the place and call the site's gas "
            "contact first. Leave at once if an alarm sounds or the smell is strong. Only licensed "
            "people work on gas, as local code says."
        ),
        "29 CFR 1910.146(b); Directive 1999/92/EC",
    ),
    CautionKey.OXYGEN: (
        (
            "Oxygen makes almost everything burn: no oil, no grease, no ignition; air out clothing "
            "that was in it. Follow the site's oxygen procedure and local code."
        ),
        "29 CFR 1910.146(b), above 23.5 % oxygen",
    ),
    CautionKey.INERT_GAS: (
        (
            "This gas displaces oxygen and gives no warning. Air the place and measure oxygen before "
            "anyone stays or enters, as the site's procedure and local code require."
        ),
        "29 CFR 1910.146(b), below 19.5 % oxygen",
    ),
    CautionKey.UNKNOWN_GAS: (
        (
            "The gas isn't identified: treat it as flammable, poisonous and suffocating until a "
            "competent person says otherwise under local code."
        ),
        "common practice",
    ),
    CautionKey.STEAM: (
        (
            "Steam jets burn and can't be seen close to the hole. Keep clear, approach only as the "
            "site's permit and local code allow."
        ),
        "29 CFR 1910.147; common practice",
    ),
    CautionKey.PRESSURE_JET: (
        (
            "Never feel for a jet with the hand and never point it at a person; protect the eyes. "
            "Site rules and local code come first."
        ),
        "29 CFR 1910.242(b)",
    ),
    CautionKey.ISOLATE: (
        (
            "Isolate, bleed and lock before loosening or opening anything, under the site's lock-out "
            "procedure and local code."
        ),
        "29 CFR 1910.147",
    ),
    CautionKey.VACUUM: (
        (
            "Keep skin, hair and loose clothing away from suction openings; vent before opening, as "
            "the site's procedure and local code require."
        ),
        "common practice",
    ),
    CautionKey.ELECTRICAL: (
        (
            "Don't open or touch a live enclosure: shock and arc flash kill. Report it to the "
            "qualified electrical person, who decides on de-energising under local code."
        ),
        "29 CFR 1910.333(a)(1); NFPA 70E",
    ),
    CautionKey.ROTATION: (
        (
            "Guards stay on and probes, sleeves and hair stay off moving parts. Stop and lock the "
            "drive before touching it, under the site's procedure and local code."
        ),
        "29 CFR 1910.147",
    ),
    CautionKey.CONTACT_PROBE: (
        (
            "Touch with the contact probe or the grease gun only at a still part that the guards leave "
            "free; never reach through, over or round a guard. Where there is no such place, the site has "
            "one fitted while the machine is stopped and locked, as local code says."
        ),
        "29 CFR 1910.212(a)(1)",
    ),
    CautionKey.TONE_SOURCE: (
        (
            "Nobody stays inside with the tone source: count people out before the door shuts and make sure "
            "that it opens from inside. Keep ears away from the source. The site's procedure and local "
            "code come first."
        ),
        "common practice",
    ),
    CautionKey.CONFINED_SPACE: (
        (
            "Pits, tanks and vaults are entered only with a permit, a gas test and an attendant, as "
            "local code says."
        ),
        "29 CFR 1910.146",
    ),
    CautionKey.HEARING: (
        ("Wear hearing protection near large jets and loud machines, as the site and local code require."),
        "29 CFR 1910.95",
    ),
    CautionKey.NOT_A_GAS_TEST: (
        (
            "An ultrasound reading is not a gas test: only a suitable, calibrated gas detector in "
            "trained hands tells whether the air is safe."
        ),
        "common practice",
    ),
}

CAUTIONS: Mapping[CautionKey, Caution] = MappingProxyType(
    {key: Caution(key.value, text, basis) for key, (text, basis) in _TEXTS.items()}
)

_BY_HAZARD: dict[Hazard, tuple[CautionKey, ...]] = {
    Hazard.NONE: (),
    Hazard.PRESSURE: (CautionKey.PRESSURE_JET, CautionKey.ISOLATE, CautionKey.HEARING),
    Hazard.VACUUM: (CautionKey.VACUUM, CautionKey.ISOLATE),
    Hazard.GAS: (
        CautionKey.FUEL_GAS,
        CautionKey.NOT_A_GAS_TEST,
        CautionKey.CONFINED_SPACE,
        CautionKey.ISOLATE,
    ),
    Hazard.OXYGEN: (
        CautionKey.OXYGEN,
        CautionKey.NOT_A_GAS_TEST,
        CautionKey.CONFINED_SPACE,
        CautionKey.ISOLATE,
    ),
    Hazard.INERT: (
        CautionKey.INERT_GAS,
        CautionKey.CONFINED_SPACE,
        CautionKey.NOT_A_GAS_TEST,
        CautionKey.PRESSURE_JET,
        CautionKey.ISOLATE,
    ),
    Hazard.STEAM: (CautionKey.STEAM, CautionKey.ISOLATE, CautionKey.HEARING),
    Hazard.ROTATION: (CautionKey.ROTATION, CautionKey.CONTACT_PROBE, CautionKey.HEARING),
    Hazard.ELECTRICAL: (CautionKey.ELECTRICAL,),
}


def cautions(kind: Kind, medium: Medium | None) -> tuple[Caution, ...]:
    """Return the cautions of a kind of finding on a medium, the most urgent first."""
    keys = _BY_HAZARD[hazard(kind, medium).hazard]
    if medium is Medium.OTHER and kind in {Kind.PRESSURE_LEAK, Kind.ENCLOSURE_LEAK}:
        keys = (CautionKey.UNKNOWN_GAS, *keys)
    if kind is Kind.ENCLOSURE_LEAK:
        keys = (*keys, CautionKey.TONE_SOURCE, CautionKey.CONFINED_SPACE, CautionKey.HEARING)
    return tuple(CAUTIONS[key] for key in dict.fromkeys(keys))


def with_site_cautions(own: Iterable[Caution], site: Iterable[Caution]) -> tuple[Caution, ...]:
    """Return our cautions followed by the site's; a site's text never replaces one of ours."""
    kept = tuple(own)
    return kept + tuple(caution for caution in dict.fromkeys(site) if caution not in kept)
