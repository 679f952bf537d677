"""One page of a pile as it comes through the door: not yet decoded, or refused with a reason."""

from __future__ import annotations

import logging
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from kit.errors import SourceError
from scanner.limits import TOO_GREEDY

for _library in ("PIL", "pypdfium2", "pillow_heif"):
    # Without a handler of their own, what they log goes to stderr.
    logging.getLogger(_library).addHandler(logging.NullHandler())


class Pixels(Protocol):
    """Where the pixels of one page wait; picklable, and independent of whatever opened the file."""

    def gray(self, least_long_px: int) -> NDArray[np.uint8]:
        """Return the page upright in 8-bit gray, its long side at least `least_long_px` where the file has as much."""


@dataclass(frozen=True, slots=True)
class PageFailure:
    """A page, or with `source_page` None a whole file, that cannot be read; `reason` says why and what to do."""

    source: str
    source_page: int | None
    reason: str

    def __str__(self) -> str:
        place = self.source if self.source_page is None else f"{self.source}, page {self.source_page}"
        return f"{place}: {self.reason}"


class PageError(SourceError):
    """A page that turned out damaged only when it was decoded; `failure` goes into the reading."""

    def __init__(self, failure: PageFailure) -> None:
        self.failure = failure
        super().__init__(str(failure))

    def __reduce__(self) -> tuple[type[PageError], tuple[PageFailure]]:
        return type(self), (self.failure,)


@dataclass(frozen=True, slots=True)
class PageImage:
    """One page image; `full_size_px` is its (width, height) upright, known without decoding.

    `source` is the path as the user gave it, `source_page` counts from 1.
    """

    source: str
    source_page: int
    full_size_px: tuple[int, int]
    pixels: Pixels

    def gray(self, least_long_px: int) -> NDArray[np.uint8]:
        """Decode to 8-bit gray at the smallest cheap reduction that is still large enough.

        Parameters
        ----------
        least_long_px : int
            The long side is at least this, or the file's own where the file is smaller.

        Returns
        -------
        (height, width) array of uint8
            Upright, light paper light, C-contiguous; perhaps read-only.

        Raises
        ------
        PageError
            If the pixels are damaged or do not fit into memory. Nothing else is raised.
        """
        try:
            with library_errors("the picture is damaged. Copy, scan or photograph it again."):
                return self.pixels.gray(max(1, least_long_px))
        except SourceError as error:
            raise PageError(PageFailure(self.source, self.source_page, str(error))) from error


@contextmanager
def library_errors(reason: str) -> Iterator[None]:
    """Turn whatever a decoding library raises into a SourceError that says `reason`, and silence its warnings.

    Broken files make decoders raise nearly every built-in exception there is, so all are caught, around library calls
    only.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    except SourceError:
        raise
    except FileNotFoundError as error:
        raise SourceError("the file is gone.", "Put it back, and begin again.") from error
    except MemoryError as error:
        raise SourceError(TOO_GREEDY) from error
    except Exception as error:
        raise SourceError(reason) from error
