"""What a sitting needs: glasses, drink, bottles, time and alcohol, and what deserves care."""

from __future__ import annotations

import math
from dataclasses import dataclass

from kit.session import Pour, Session, Shuffle

ML_PER_US_FL_OZ = 29.5735295625
"""231 cubic inches of 2.54³ cm³ to the US gallon, 128 fluid ounces to the gallon."""
GRAMS_PER_ML = 0.789
"""Ethanol at 20 °C, as national guidelines round it (789.24 kg/m³, OIML R 22)."""
GRAMS_PER_US_DRINK = 14.0
"""One standard drink in the United States (NIAAA)."""
BOTTLE_ML = 720

# Common practice, no published source: what a common tasting glass holds.
_GLASS_HOLDS_ML = 90
_MANY_DRINKS = 2
_FULL_PERCENT, _HALF_EMPTY_PERCENT = 95, 50
"""Of a vial in the post: above the one the drink has no room to expand, below the other much air lies over it. Our own
figures.
"""

_LEVEL = "Pour all glasses to one level; level them again before they are moved."
_ALIKE = "Glasses and coasters are all alike: no chip, stain or mark gives one away."
_CAUTIONS: dict[Shuffle, tuple[str, ...]] = {
    "host": (
        _LEVEL,
        _ALIKE,
        "Whoever moves the glasses does not taste. No key is opened before all claims are in.",
    ),
    "hand": (
        _LEVEL,
        _ALIKE,
        "Mix the glasses so that no taster sees it. No coaster is turned before all claims are in.",
        "Mixing by hand is no draw by lot: the results keep it apart from sittings with printed keys.",
    ),
    "twin": (
        "Fill all vials to one level. They are all alike: no chip, stain or mark gives one away.",
        "Fill the two vials of a drink in one packet from one bottle, one packet after the other.",
        "Whoever fills and labels the vials does not taste. No key is opened before its taster's sheets are sent.",
    ),
}
_ALCOHOL_CAUTIONS = (
    "Spit; have water, and something to spit into, at every seat.",
    "Not for anyone under age, pregnant, or about to drive.",
)
_POST_CAUTION = "Posting alcohol has rules of its own: ask the carrier, and heed the law where the packets go."


@dataclass(frozen=True, slots=True)
class Alcohol:
    """Pure alcohol, for one taster who swallows everything."""

    pure_ml: float
    grams: float
    us_standard_drinks: float


@dataclass(frozen=True, slots=True)
class Vials:
    """What kits by post need beyond a sitting at one table.

    `ml_with_loss_per_drink` is what to have of each drink: what goes into the vials, and `loss_percent` of that on top.
    Both vials of a drink in one packet are filled from one bottle, so a bottle serves a whole number of packets.
    """

    vial_ml: float
    filled_percent: float
    loss_percent: float
    ml_with_loss_per_drink: float
    packets_per_bottle: int


@dataclass(frozen=True, slots=True)
class Plan:
    """What one sitting needs; "per drink" is for all tasters together.

    `vessels` counts all glasses on the table; with "twin" the vials, two of every drink for each taster, and
    `ml_per_drink` is what goes into them. `alcohol` is of both rounds together, None where the strength of a drink is
    not given. `vials` is None but with "twin".
    """

    tasters: int
    glasses_per_taster: int
    vessels: int
    pour_ml: float
    pour_us_fl_oz: float
    ml_per_drink: float
    us_fl_oz_per_drink: float
    bottles_per_drink: int
    minutes_per_round: float
    seconds_per_glass: float
    alcohol: Alcohol | None
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    vials: Vials | None = None


def plan(session: Session) -> Plan:
    """Return what the session needs.

    Both rounds use the same glasses with "host" and "hand"; with "twin" each has a vial of its own.
    """
    tasters = len(session.tasters)
    servings = 2 if session.shuffle == "twin" else 1
    ml_per_drink = session.pour_ml * servings * tasters
    alcohol = _alcohol(session.pours, session.pour_ml * servings)
    dry = alcohol is not None and alcohol.pure_ml == 0
    vials = _vials(session, ml_per_drink) if session.shuffle == "twin" else None
    return Plan(
        tasters=tasters,
        glasses_per_taster=session.glasses,
        vessels=session.glasses * servings * tasters,
        pour_ml=session.pour_ml,
        pour_us_fl_oz=us_fl_oz(session.pour_ml),
        ml_per_drink=ml_per_drink,
        us_fl_oz_per_drink=us_fl_oz(ml_per_drink),
        bottles_per_drink=-(-tasters // vials.packets_per_bottle) if vials else bottles(ml_per_drink),
        minutes_per_round=session.minutes,
        seconds_per_glass=session.minutes * 60 / session.glasses,
        alcohol=alcohol,
        warnings=_warnings(session, alcohol),
        cautions=_CAUTIONS[session.shuffle] + (() if dry else _alcohol_cautions(session.shuffle)),
        vials=vials,
    )


def bottle_of(packet: int, packets_per_bottle: int) -> int:
    """Return which bottle of each drink fills a packet; packets and bottles count from 1."""
    return (packet - 1) // packets_per_bottle + 1


def us_fl_oz(volume_ml: float) -> float:
    """Return a volume in US fluid ounces."""
    return volume_ml / ML_PER_US_FL_OZ


def bottles(volume_ml: float) -> int:
    """Return how many bottles of 720 ml hold the volume."""
    # A sum of float pours may lie a hair above a whole number of bottles.
    return math.ceil(round(volume_ml / BOTTLE_ML, 9))


def alcohol_in(pure_ml: float) -> Alcohol:
    """Return a volume of pure alcohol with its weight and the standard drinks that it makes."""
    grams = pure_ml * GRAMS_PER_ML
    return Alcohol(pure_ml, grams, grams / GRAMS_PER_US_DRINK)


def _alcohol_cautions(shuffle: Shuffle) -> tuple[str, ...]:
    return (*_ALCOHOL_CAUTIONS, _POST_CAUTION) if shuffle == "twin" else _ALCOHOL_CAUTIONS


def _vials(session: Session, ml_per_drink: float) -> Vials:
    with_loss = 1 + session.loss_percent / 100
    # Shares of float volumes may lie a hair below a whole number of packets.
    packets_per_bottle = math.floor(round(BOTTLE_ML / (2 * session.pour_ml * with_loss), 9))
    return Vials(
        vial_ml=session.vial_ml,
        filled_percent=session.pour_ml / session.vial_ml * 100,
        loss_percent=session.loss_percent,
        ml_with_loss_per_drink=ml_per_drink * with_loss,
        packets_per_bottle=packets_per_bottle,
    )


def _alcohol(pours: tuple[Pour, ...], ml_of_each: float) -> Alcohol | None:
    strengths = [pour.abv_percent for pour in pours if pour.abv_percent is not None]
    return alcohol_in(ml_of_each * sum(strengths) / 100) if len(strengths) == len(pours) else None


def _warnings(session: Session, alcohol: Alcohol | None) -> tuple[str, ...]:
    warnings = [_look_warning(session.pours)]
    if session.shuffle == "twin":
        warnings.append(_fill_warning(session.pour_ml, session.vial_ml))
    if session.pour_ml > _GLASS_HOLDS_ML:
        warnings.append(
            f"{session.pour_ml:g} ml is more than the {_GLASS_HOLDS_ML} ml a common tasting glass holds: "
            "pour 70 to 80 ml, or take larger glasses."
        )
    if alcohol is not None and alcohol.us_standard_drinks > _MANY_DRINKS:
        warnings.append(
            f"A taster who swallows everything takes {alcohol.grams:.0f} g of alcohol, more than "
            f"{_MANY_DRINKS} standard drinks: spit, or pour less."
        )
    if session.seed is not None:
        warnings.append(
            "The file has a seed: whoever knows it can print the same keys. Leave it out of a real tasting."
        )
    return tuple(warning for warning in warnings if warning)


def _fill_warning(pour_ml: float, vial_ml: float) -> str:
    filled = f"{pour_ml:g} ml fill {pour_ml / vial_ml * 100:.0f} % of a vial of {vial_ml:g} ml"
    if pour_ml > vial_ml * _FULL_PERCENT / 100:
        return f"{filled}: a drink that grows warm on its way needs room to expand. Fill less, or take larger vials."
    if pour_ml < vial_ml * _HALF_EMPTY_PERCENT / 100:
        return f"{filled}: so much air ages a drink on its way. Fill more, or take smaller vials."
    return ""


def _look_warning(pours: tuple[Pour, ...]) -> str:
    known = [f"{pour.name} is {pour.look}" for pour in pours if pour.look is not None]
    unknown = [pour.name for pour in pours if pour.look is None]
    remedy = "use dark glasses or dim light"
    if len({pour.look for pour in pours if pour.look is not None}) > 1:
        return f"The eye can tell these drinks apart ({', '.join(known)}): {remedy}."
    if unknown:
        return f"No look is given for {', '.join(unknown)}. If the eye tells drinks apart, {remedy}."
    return ""
