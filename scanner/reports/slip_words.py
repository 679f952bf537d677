"""The sentences of a slip, in the words of its language."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from kit.lexicon import Lexicon, load_lexicon, printed_words, translated
from kit.wording import Wording
from scanner.reports.phrases import decimal, listed, times_in
from scanner.reports.slip import Slip, SlipDrink
from scanner.results.sitting import Note
from scanner.results.voices import in_form_order


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """How a sitting's words and scales are printed: by the word, or the scale's id, that readings keep."""

    words: Wording
    lexicon: Lexicon
    printed: Mapping[str, str]

    def shown(self, words: Iterable[str]) -> str:
        """Return words as a list in a line."""
        return listed((self.printed.get(word, word) for word in words), self.words)

    def scale(self, scale: str) -> str:
        """Return a scale's printed name."""
        return next((one.name for one in self.lexicon.scales if one.id == scale), scale)


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a drink's notes: what it is of, and what was said; `mark` is its sign among the dots, or ''."""

    mark: str
    label: str
    text: str
    bold: bool = False


def vocabulary(drink: str | None, words: Wording) -> Vocabulary:
    """Return the vocabulary of a session's `drink`; None stands for typed results, which have no notes."""
    if drink is None:
        return Vocabulary(words, Lexicon("", "", (), ()), {})
    lexicon = load_lexicon(drink)
    return Vocabulary(words, translated(lexicon, words), printed_words(lexicon, words))


def result_line(slip: Slip, words: Wording) -> tuple[str, str]:
    """Return the result in short, "3 of 5 right", and the sentences beside it."""
    state, of = slip.state, slip.sitting.glasses
    if slip.correct is None:
        return words("slip.not_scored"), words(f"slip.state_{state}")
    short = words("slip.result", correct=slip.correct, of=of)
    if state == "no_claims" or slip.luck is None:
        left = len(slip.sitting.unsettled)
        return short, words(f"slip.state_{state}", left=left)
    # "None or more" would be every time, and say nothing.
    chance = slip.luck.chance_at_least if slip.correct else slip.luck.chances[0]
    told = [
        words(
            "slip.luck" if slip.correct else "slip.luck_none",
            expected=decimal(float(slip.luck.expected), 2),
            correct=slip.correct,
            times=times_in(chance, words),
        )
    ]
    if slip.luck.by_hand:
        told.append(words("slip.by_hand"))
    return short, words("frame.between_sentences").join(told)


def claim_words(slip: Slip, drink: SlipDrink, words: Wording) -> str:
    """Say where a drink stood in round two, and what was claimed of it there."""
    if drink.place is None:
        return ""
    one = next(place for place in slip.places if place.place == drink.place)
    if one.claimed is None:
        return words("slip.stood_blank", place=one.place)
    return words("slip.stood_right" if one.right else "slip.stood_wrong", place=one.place, claimed=one.claimed)


def note_rows(slip: Slip, drink: SlipDrink, spoken: Vocabulary, *, brief: bool = False) -> list[Row]:
    """Return the rows of a drink's notes: words of both rounds, what is in doubt, where the table said otherwise.

    With `brief` words that nobody else said are counted, not named once more.
    """
    table = _table_rows(drink, spoken, brief=brief)
    return [*_word_rows(slip, drink, spoken), *_doubt_rows(slip, drink, spoken), *table]


def _word_rows(slip: Slip, drink: SlipDrink, spoken: Vocabulary) -> Iterator[Row]:
    words = spoken.words
    if drink.first is not None and drink.second is not None:
        if not (drink.kept or drink.dropped or drink.new):
            yield Row("", words("slip.rounds_both"), words("slip.no_words"))
            return
        none = words("slip.none")
        yield Row("◉", words("slip.rounds_both"), spoken.shown(drink.kept) or none, bold=bool(drink.kept))
        yield Row("○", words("slip.rounds_one"), spoken.shown(drink.dropped) or none)
        yield Row("●", words("slip.rounds_two"), spoken.shown(drink.new) or none)
        return
    yield Row("○", words("slip.round_one"), _single(slip, drink.first, spoken) or words("slip.no_sheet"))
    why = "slip.no_sheet" if slip.sitting.notes_2 is None else "slip.not_yet"
    yield Row("●", words("slip.round_two"), _single(slip, drink.second, spoken) or words(why))


def _single(slip: Slip, note: Note | None, spoken: Vocabulary) -> str:
    if note is None:
        return ""
    said = in_form_order(note.words - note.unsettled, slip.sitting.words)
    return spoken.shown(said) or spoken.words("slip.no_words")


def _doubt_rows(slip: Slip, drink: SlipDrink, spoken: Vocabulary) -> Iterator[Row]:
    doubtful = frozenset[str]().union(*(note.unsettled for note in drink.notes))
    if doubtful:
        form = (*slip.sitting.words, *slip.sitting.scales)
        told = [
            spoken.scale(one) if one in slip.sitting.scales else spoken.printed.get(one, one)
            for one in in_form_order(doubtful, form)
        ]
        yield Row("", spoken.words("slip.doubt"), listed(told, spoken.words))


def _table_rows(drink: SlipDrink, spoken: Vocabulary, *, brief: bool) -> Iterator[Row]:
    words, found = spoken.words, drink.table
    if found is None or found.too_little is not None:
        return
    minority = drink.minority
    if minority is None and not found.words:
        return
    if minority is None:
        yield Row("", words("slip.table"), words("slip.table_same"))
        return
    told = []
    if minority.missed:
        counts = (
            words("slip.table_count", word=spoken.shown([word]), said=found.words[word], tasters=found.tasters)
            for word in minority.missed
        )
        told.append(words("slip.table_missed", words=listed(counts, words)))
    if minority.alone and brief and len(minority.alone) > 1:
        told.append(words("slip.table_alone_many", count=len(minority.alone)))
    elif minority.alone:
        told.append(words("slip.table_alone", words=spoken.shown(minority.alone)))
    if minority.apart:
        apart = (
            words(
                "slip.table_above" if steps > 0 else "slip.table_below",
                scale=spoken.scale(scale),
                steps=decimal(abs(steps)),
            )
            for scale, steps in minority.apart.items()
        )
        told.append(words("slip.table_apart", scales=listed(apart, words)))
    yield Row("", words("slip.table"), words("frame.between_sentences").join(told))
