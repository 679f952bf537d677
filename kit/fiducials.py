"""The four corner marks: tags 0 to 3 of the AprilTag family 36h11, 8 × 8 modules with their black border.

Their patterns stand here as text, so that printing needs no image library; a test holds them against OpenCV's own.
"""

from __future__ import annotations

_TAGS = (
    """
    ########
    ###.####
    ##..#.##
    ####.#.#
    ####..##
    #.#...##
    #.#.#..#
    ########
    """,
    """
    ########
    #.##.###
    #.#..#.#
    ####..##
    ###....#
    #...#.##
    ##..#..#
    ########
    """,
    """
    ########
    ##...###
    ###.####
    #.##.###
    ######.#
    ##.##.##
    #...#..#
    ########
    """,
    """
    ########
    ####..##
    ##.##..#
    #.##.#.#
    #...##.#
    #...####
    #.##...#
    ########
    """,
)

FIDUCIALS: tuple[tuple[tuple[bool, ...], ...], ...] = tuple(
    tuple(tuple(cell == "#" for cell in row) for row in tag.split()) for tag in _TAGS
)
"""Clockwise from the top left corner: rows of modules, True where dark."""
