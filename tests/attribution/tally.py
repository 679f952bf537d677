"""What came of a run, counted, as a table with exact 95 % bounds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from scanner.bounds import upper_bound
from scanner.code_readers import READERS
from tests.attribution.corners import CornerTried
from tests.attribution.pages import PageTried, Verdict

Count = Counter[Verdict]


def page_table(pages: Sequence[PageTried]) -> Iterator[str]:
    """Yield the lines of the table of whole pages."""
    yield f"whole pages {'':>23} {'pages':>7} {'right':>7} {'refused':>8} {'WRONG':>6}"
    for kind in dict.fromkeys(page.kind for page in pages):
        counts = Counter(page.verdict for page in pages if page.kind == kind)
        yield f"  {kind:<33} {counts.total():>7,} {_row(counts)}"
    all_counts = Counter(page.verdict for page in pages)
    yield f"  {'all':<33} {all_counts.total():>7,} {_row(all_counts)}"
    yield f"  credited wrong: {_bound(all_counts)}"
    for reason, count in Counter(page.reason for page in pages if page.verdict is Verdict.REFUSED).most_common():
        yield f"  {count:>5} refused: {reason}"


def corner_table(corners: Sequence[CornerTried]) -> Iterator[str]:
    """Yield the lines of the table of code corners: right, refused and wrong for each decoder and for the reader."""
    names = (*READERS, "the reader")
    yield f"code corners {'':>22} {'corners':>7}" + "".join(f" | {name:>22}" for name in names)
    yield " " * 43 + "".join(f" | {'right':>7} {'refused':>8} {'WRONG':>5}" for _ in names)
    kinds = list(dict.fromkeys(corner.kind for corner in corners))
    for kind in (*kinds, "all"):
        some = [corner for corner in corners if kind in (corner.kind, "all")]
        columns = (_row(Counter(corner.verdicts[place] for corner in some), 5) for place in range(len(names)))
        yield f"  {kind:<33} {len(some):>7,}" + "".join(f" | {column}" for column in columns)
    for place, name in enumerate(names):
        yield f"  {name} wrong: {_bound(Counter(corner.verdicts[place] for corner in corners))}"
    both = [corner for corner in corners if all(verdict is not Verdict.REFUSED for verdict in corner.verdicts[:2])]
    contradicted = sum(corner.contradicted for corner in corners)
    yield (
        f"  both decoders returned a text {len(both):,} times; contradicted each other {contradicted} times of "
        f"{len(corners):,} ({_rate(contradicted, len(corners))})"
    )
    strays = [text for corner in corners for text in corner.strays]
    credible = sum(len(corner.credible) for corner in corners)
    yield f"  texts that were not printed: {len(strays)}; let pass by check value, MAC and record: {credible}"


def attack_table(attacks: Mapping[str, tuple[int, int]]) -> Iterator[str]:
    """Yield the lines of the table of attacks on a code's text."""
    yield f"texts of codes {'':>20} {'tried':>9} {'ACCEPTED':>9}"
    for name, (tried, accepted) in attacks.items():
        yield f"  {name:<33} {tried:>9,} {accepted:>9}   {_rate(accepted, tried)}"


def is_clean(
    pages: Sequence[PageTried], corners: Sequence[CornerTried], attacks: Mapping[str, tuple[int, int]]
) -> bool:
    """Tell whether nothing was credited wrong, no decoder contradicted and no attack accepted."""
    return not (
        any(page.verdict is Verdict.WRONG for page in pages)
        or any(corner.contradicted or corner.verdicts[-1] is Verdict.WRONG for corner in corners)
        or any(accepted for _, accepted in attacks.values())
    )


def _row(counts: Count, wide: int = 6) -> str:
    return f"{counts[Verdict.RIGHT]:>7,} {counts[Verdict.REFUSED]:>8,} {counts[Verdict.WRONG]:>{wide}}"


def _bound(counts: Count) -> str:
    wrong, credited = counts[Verdict.WRONG], counts[Verdict.WRONG] + counts[Verdict.RIGHT]
    return f"{wrong} of {credited:,} credited ({_rate(wrong, credited)}), of {counts.total():,} in all " + (
        f"({_rate(wrong, counts.total())})"
    )


def _rate(count: int, of: int) -> str:
    return f"95 % bound 1 in {1 / upper_bound(count, of):,.0f}"
