"""How much a file of images, and each page of it, may ask of the machine: every limit, and why it stands where it does.

Whatever is beyond a limit costs that page, or that file, and a sentence; the rest of the pile goes on. What a text file
may hold is said where it is read. What was measured is told by `python -m tests.scanner.page_cost`.
"""

from __future__ import annotations

from kit.errors import SourceError

MOST_BYTES = 200_000_000
"""Of one file: a sample sheet in colour at 300 dpi has .7 to 1.1 MB as JPEG of quality 75, 1.3 to 2.0 of 92, so
a hundred pages have as many at the most. More is a disk image or a film."""

MOST_PAGES = 2_000
"""Of one file: two rounds and the claims of 600 tasters. A PDF of a few kilobytes can claim a million pages."""

MOST_PIXELS = 100_000_000
"""A page above this is refused before a pixel is decoded: A3 at 600 dpi has 70 million. One of this size, in colour
and as PNG, is beyond `WORKER_MB` already."""

LEAST_SIDE_PX = 200
"""Short side below which no printed sheet can be read: A4 would be under 1 px a millimetre."""

PAGE_SECONDS = 60.0
"""On the wall clock, for one page or for listing a file's pages. Of what was measured the slowest is A3 at 600 dpi in
colour as PNG, with 4.5 s of processor time; the same as JPEG takes 1.0, a sheet photographed .4, a row of coasters on
48 megapixels .5. The rest is for slow and busy machines."""

START_SECONDS = 120.0
"""For a worker to come up: it loads the image libraries, from a cold and busy disk perhaps."""

WORKER_MB = 900
"""Memory of one worker, in MB of 10⁶ bytes: under 1 GiB in all. The system counts what is held and not in use, too: the
libraries hold 290 from the start and use 80. That same A3 page as PNG has 630 in use at the most, as JPEG 340."""

NO_PAGES = "it has no pages. Save, print or scan it again."

TOO_LONG = (
    f"reading it took more than {PAGE_SECONDS:.0f} seconds, and a page may take no more. "
    "Save it as JPEG or PNG, or scan it again."
)
TOO_GREEDY = (
    f"reading it takes more than {WORKER_MB} MB of memory, and a page may take no more. "
    "Scan it at 300 dpi in gray, or save a smaller copy."
)


def check_size(width_px: int, height_px: int) -> None:
    """Refuse a page of a size that cannot be a page, before it is decoded.

    Raises
    ------
    SourceError
        With the size found and the size allowed.
    """
    if min(width_px, height_px) < LEAST_SIDE_PX:
        raise SourceError(
            f"too small to be a page: {width_px:,}×{height_px:,} px, and the short side needs {LEAST_SIDE_PX} px at "
            "least.",
            "Scan it at 200 dpi or more, or send the photograph in its full size.",
        )
    check_most_pixels(width_px, height_px)


def check_most_pixels(width_px: int, height_px: int) -> None:
    """Refuse a page, or a picture on one, that is too large; SourceError says how large it is."""
    if width_px * height_px > MOST_PIXELS:
        raise SourceError(
            f"too large: {width_px:,}×{height_px:,} px are {width_px * height_px / 1e6:,.0f} megapixels, and a page "
            f"may have {MOST_PIXELS / 1e6:.0f}.",
            "Scan it at 300 dpi, or save a smaller copy.",
        )


def check_page_count(pages: int) -> None:
    """Refuse a file with no page or too many; SourceError says how many it has."""
    if pages == 0:
        raise SourceError(NO_PAGES)
    if pages > MOST_PAGES:
        raise SourceError(f"it has {pages:,} pages, and a file may have {MOST_PAGES:,}. Split it.")


def check_bytes(octets: int) -> None:
    """Refuse a file that is too large; SourceError says how large it is."""
    if octets > MOST_BYTES:
        raise SourceError(
            f"the file has {octets / 1e6:,.0f} MB, and {MOST_BYTES / 1e6:.0f} MB are allowed.",
            "Split it, or scan at 300 dpi or less.",
        )
