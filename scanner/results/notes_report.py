"""Notes, steady words and drinks met again, in plain words for a taster and as JSON."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict
from typing import Any

from scanner.results.later import DrinkAgain, Later
from scanner.results.luck import times
from scanner.results.notes import Combined, DrinkNotes, Notes, SittingNotes
from scanner.results.round_agreement import ScaleAgreement
from scanner.results.steady import WordReturn

TOO_LITTLE = "Too little to tell"
SMALL = 0.05
ASSUMED = "That every order was equally likely is an assumption about mixing by hand."
NOT_INDEPENDENT = "Notes and claims of one sitting are not independent evidence: do not add one to the other."
MEASURE = (
    "How alike two notes are: two points for each word in both, less a point for each step that strengths are apart; a "
    "strength left blank in either counts as half its scale apart."
)


def sitting_sentences(sitting: SittingNotes) -> tuple[str, ...]:
    """Say of one sitting which words came back, and what the notes alone would have claimed."""
    said = [_drink_sentence(drink) for drink in sitting.drinks]
    if sitting.too_little is not None:
        return (*said, f"{TOO_LITTLE}: {sitting.too_little}.")
    found = sitting.pairing
    said.append(f"Notes at least as alike as these, paired at random: {times(found.chance_at_least)}.")
    if found.least_chance > SMALL:
        why = (
            f"with {found.glasses} glasses alone" if found.glasses == 3 else "with so many notes as alike as each other"
        )
        said.append(f"{TOO_LITTLE} from this sitting: {why}, even the best pairing comes {times(found.least_chance)}.")
    right = _number(float(found.right_by_notes))
    ways = "" if found.best == 1 else f", on average over the {found.best} best ways to pair them"
    said.append(f"By the notes alone {right} of {found.glasses} glasses would have been right{ways}.")
    if sitting.claims_right is not None:
        said.append(f"By the claims {sitting.claims_right} {'was' if sitting.claims_right == 1 else 'were'}.")
    return tuple(said)


def sentences(found: Notes) -> tuple[str, ...]:
    """Say over all sittings whether notes come back, and whether the notes or the claims did better."""
    if found.too_little is not None:
        return (f"{TOO_LITTLE}: {found.too_little}.", *_left_out(found))
    words = found.words
    if not words.kept + words.dropped + words.new:
        said = [f"{TOO_LITTLE} of words: none was crossed in these sittings."]
    else:
        alpha = "" if words.alpha is None else f"; Krippendorff's alpha {known(words.alpha, words.interval)}"
        share = 0.0 if words.mean_jaccard is None else words.mean_jaccard
        said = [
            f"Words: {words.kept} kept, {words.dropped} dropped, {words.new} new from round one to round two. Of the "
            f"words of a drink {share:.0%} came in both rounds (Jaccard's coefficient, on average){alpha}."
        ]
        if words.alpha is None:
            said.append(f"{TOO_LITTLE} by Krippendorff's alpha: every word on offer was crossed of every drink.")
        elif words.interval_lacks is not None:
            said.append(f"{TOO_LITTLE} how well alpha is known: {words.interval_lacks}.")
    said += _scale_sentences(found.scales)
    for kind in found.combined:
        said += _combined_sentences(kind)
    if found.unsettled:
        said.append(f"{found.unsettled} answers are not settled and count as left blank.")
    return (*said, *_left_out(found))


def steady_sentences(words: Sequence[WordReturn]) -> tuple[str, ...]:
    """Say which words are steady and which are noise."""
    steady = [_return(word) for word in words if word.verdict == "steady"]
    noise = [_return(word) for word in words if word.verdict == "noise"]
    open_ = [word for word in words if word.verdict == "too little to tell"]
    tested = sum(word.chance is not None for word in words)
    said = []
    if steady:
        said.append(f"Steady words: {'; '.join(steady)}.")
    if noise:
        said.append(f"No better than noise: {'; '.join(noise)}.")
    if not steady:
        said.append(
            f"{TOO_LITTLE} which words are steady: no word has come back so often that luck is ruled out, all "
            f"{tested} words looked at together (Holm's correction)."
            if tested
            else f"{TOO_LITTLE} which words are steady: no word was crossed of some glasses and not of others."
        )
    if open_ and (steady or noise):
        names = ", ".join(word.word for word in open_)
        said.append(f"{TOO_LITTLE} of: {names}.")
    return tuple(said)


def later_sentences(found: Later) -> tuple[str, ...]:
    """Say of each drink met again what came back."""
    said = [_again(drink) for drink in found.again]
    if found.again and found.mean_jaccard is not None:
        said.append(f"Of the words of a drink met again {found.mean_jaccard:.0%} were said both times, on average.")
    for chance, mixed in ((found.chance_designed, False), (found.chance_by_hand, True)):
        if chance is not None:
            by = " (mixed by hand)" if mixed else ""
            said.append(
                f"Notes at least as like those of the same drink in an earlier sitting{by}, had they nothing to do "
                f"with the drink: {times(chance)}." + (f" {ASSUMED}" if mixed else "")
            )
    if found.too_little is not None:
        said.append(f"{TOO_LITTLE} of drinks met again: {found.too_little}.")
    return tuple(said)


def to_json(found: Notes, words: Sequence[WordReturn], again: Later) -> dict[str, Any]:
    """Return one taster's notes, steady words and drinks met again as a JSON object."""
    return {
        "taster": found.taster,
        "name": found.name,
        "too_little": found.too_little,
        "measure": MEASURE,
        "sittings": [_sitting_to_json(sitting) for sitting in found.sittings],
        "left_out": list(found.left_out),
        "unsettled": found.unsettled,
        "words": asdict(found.words),
        "scales": [asdict(scale) for scale in found.scales],
        "combined": [{**asdict(kind), "keys": _keys(kind.designed)} for kind in found.combined],
        "steady": [
            {**asdict(word), "rate": word.rate, "base_rate": word.base_rate, "verdict": word.verdict} for word in words
        ],
        "again": {
            "too_little": again.too_little,
            "drinks": [asdict(drink) for drink in again.again],
            "mean_jaccard": again.mean_jaccard,
            "sittings": again.sittings,
            "chance_designed": again.chance_designed,
            "chance_by_hand": again.chance_by_hand,
        },
        "sentences": {
            "notes": list(sentences(found)),
            "steady": list(steady_sentences(words)),
            "again": list(later_sentences(again)),
        },
    }


def _sitting_to_json(sitting: SittingNotes) -> dict[str, Any]:
    found = sitting.pairing
    return {
        "kit": sitting.kit,
        "title": sitting.title,
        "date": sitting.date,
        "keys": _keys(sitting.designed),
        "drinks": [{**asdict(drink), "shifts": dict(drink.shifts)} for drink in sitting.drinks],
        "similarity": found.score,
        "chance_at_least": float(found.chance_at_least) if found.tells else None,
        "least_chance": float(found.least_chance) if found.tells else None,
        "best_pairings": found.best,
        "right_by_notes": float(found.right_by_notes),
        "right_by_claims": sitting.claims_right,
        "too_little": sitting.too_little,
        "sentences": list(sitting_sentences(sitting)),
    }


def _keys(designed: bool) -> str:
    return "drawn by lot" if designed else "mixed by hand"


def _drink_sentence(drink: DrinkNotes) -> str:
    words = _words(drink.kept, drink.dropped, drink.new)
    shifts = _shifts(drink.shifts)
    return f"{drink.drink.name} ({drink.coaster}, then {drink.place}): {words}{'; ' + shifts if shifts else ''}."


def _again(drink: DrinkAgain) -> str:
    days = f"{drink.days} day{'s' * (drink.days != 1)}"
    shifts = _shifts(drink.shifts)
    words = _words(drink.kept, drink.dropped, drink.new)
    return f"{drink.drink.name}, {days} later: {words}{'; ' + shifts if shifts else ''}."


def _words(kept: Sequence[str], dropped: Sequence[str], new: Sequence[str]) -> str:
    told = [
        f"{name} {', '.join(words)}" for name, words in (("kept", kept), ("dropped", dropped), ("new", new)) if words
    ]
    return "; ".join(told) or "no word either time"


def _shifts(shifts: Mapping[str, float]) -> str:
    moved = [f"{scale} {steps:+g}".replace("-", "−") for scale, steps in shifts.items() if steps]
    if moved:
        return ", ".join(moved)
    return "strengths the same" if shifts else ""


def _scale_sentences(scales: Sequence[ScaleAgreement]) -> Iterator[str]:
    apart = [
        f"{scale.scale} {scale.mean_apart:.1f} ({signed(scale.mean_shift, 1, plus=True)})"
        for scale in scales
        if scale.mean_apart is not None and scale.mean_shift is not None
    ]
    if apart:
        yield f"Strengths, steps apart between the rounds (and moved on average): {', '.join(apart)}."
    agreed = [f"{scale.scale} {known(scale.icc, scale.interval)}" for scale in scales if scale.icc is not None]
    if agreed:
        yield f"Agreement of strengths, ICC(2,1), 1 is perfect: {', '.join(agreed)}."
        yield from lacking_intervals((scale.scale, scale.interval_lacks) for scale in scales)
    reasons = dict.fromkeys(scale.too_little for scale in scales if scale.too_little is not None)
    for reason in reasons:
        names = [scale.scale for scale in scales if scale.too_little == reason]
        yield f"{TOO_LITTLE} of agreement in {', '.join(names)}: {reason}."


def _combined_sentences(kind: Combined) -> Iterator[str]:
    over = f"{kind.sittings} sitting{'s' * (kind.sittings != 1)} with keys {_keys(kind.designed)}"
    if kind.chance is None:
        yield f"{TOO_LITTLE} from {over}: the notes tell no glass from another."
    else:
        yield f"Over {over}: notes at least as alike, paired at random, {times(kind.chance)}."
        if not kind.designed:
            yield ASSUMED
    if not kind.compared:
        yield f"{TOO_LITTLE} whether notes or claims do better: no sitting has both."
        return
    yield (
        f"By the notes alone {_number(kind.compared_by_notes)} would have been right, by the claims "
        f"{kind.compared_by_claims} were: the notes did better in {kind.notes_better}, the claims in "
        f"{kind.claims_better} of {kind.compared} sittings."
    )
    better = "notes" if kind.notes_better > kind.claims_better else "claims"
    verdict = f"The {better} do better" if kind.difference_chance <= SMALL else f"{TOO_LITTLE} which does better"
    yield f"{verdict}: were both as good, so uneven a count comes {times(kind.difference_chance)}."
    yield NOT_INDEPENDENT


def _return(word: WordReturn) -> str:
    base = "" if word.base_rate is None else f", against {word.turned_up} of {word.other_drinks} other drinks"
    return f"{word.word} (came back {word.returned} of {word.said} times{base})"


def _left_out(found: Notes) -> tuple[str, ...]:
    return tuple(f"Left out: {reason}." for reason in found.left_out)


def known(value: float, interval: tuple[float, float] | None) -> str:
    """Return a coefficient, and where it may lie, if that is known."""
    between = "" if interval is None else f" (from {signed(interval[0], 2)} to {signed(interval[1], 2)})"
    return f"{signed(value, 2)}{between}"


def lacking_intervals(lacks: Iterable[tuple[str, str | None]]) -> Iterator[str]:
    """Say of which coefficients it is not known how well they are, with the reasons."""
    names: dict[str, list[str]] = {}
    for name, reason in lacks:
        if reason is not None:
            names.setdefault(reason, []).append(name)
    for reason, of in names.items():
        yield f"{TOO_LITTLE} how well these are known: {', '.join(of)}; {reason}."


def signed(value: float, digits: int, *, plus: bool = False) -> str:
    """Return a number as printed, nought without a sign, with a plus sign before others if asked."""
    if not round(value, digits):
        return f"{0:.{digits}f}"
    return f"{value:{'+' if plus else ''}.{digits}f}".replace("-", "−")


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
