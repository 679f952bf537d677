"""Spoils pages by Augraphy: run by the Python of the second simulator's own environment, never by the project's.

A message either way is two lengths (big-endian, four bytes each), a JSON header and a page's pixels, row by row. A
request's header holds the page's `shape`, a `seed` and the `steps`: each the name of one of Augraphy's augmentations
and its named arguments. The answer's header holds the `shape` of the page that comes back, or an `error` and no page.
The worker ends when its input does.
"""

from __future__ import annotations

import json
import os
import random
import struct
from collections.abc import Sequence
from typing import Any, BinaryIO

import cv2
import numpy as np
from numpy.typing import NDArray

Gray = NDArray[np.uint8]

LENGTHS = struct.Struct(">II")


def main() -> None:
    cv2.setNumThreads(1)
    requests = os.fdopen(os.dup(0), "rb")
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what the libraries print must not get between the answers
    while lengths := requests.read(LENGTHS.size):
        header_bytes, page_bytes = LENGTHS.unpack(lengths)
        header, pixels = json.loads(requests.read(header_bytes)), requests.read(page_bytes)
        page = np.frombuffer(pixels, np.uint8).reshape(header["shape"])
        try:
            spoilt_page = spoilt(page, header["steps"], header["seed"])
        except Exception as error:
            answer(answers, {"error": f"{type(error).__name__}: {error}"}, b"")
        else:
            answer(answers, {"shape": spoilt_page.shape}, spoilt_page.tobytes())


def spoilt(page: Gray, steps: Sequence[tuple[str, dict[str, Any]]], seed: int) -> Gray:
    """Return the page after Augraphy's augmentations of those names and arguments, one upon the other."""
    from augraphy import augmentations  # type: ignore[import-not-found]  # only the other environment has it

    random.seed(seed)
    np.random.seed(seed)
    cv2.setRNGSeed(seed)
    for name, arguments in steps:
        page = getattr(augmentations, name)(**{key: as_tuple(value) for key, value in arguments.items()})(page.copy())
        if page.ndim == 3:
            page = np.asarray(cv2.cvtColor(page, cv2.COLOR_BGR2GRAY), np.uint8)
    return np.ascontiguousarray(page, np.uint8)


def as_tuple(value: Any) -> Any:
    """Return what was a tuple before it went through JSON as one again."""
    return tuple(value) if isinstance(value, list) else value


def answer(answers: BinaryIO, header: dict[str, Any], pixels: bytes) -> None:
    told = json.dumps(header).encode()
    answers.write(LENGTHS.pack(len(told), len(pixels)) + told + pixels)
    answers.flush()


if __name__ == "__main__":
    main()
