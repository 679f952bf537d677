"""What a picture told besides its marks: the order of turned coasters, an opened key."""

from __future__ import annotations

import json
from typing import Any

from scanner.archive.database import Connection, Row


def picture_told(row: Row) -> dict[str, Any]:
    """Return a row's `told`: `order` of turned coasters, `places` and `salt` of an opened key."""
    told: dict[str, Any] = json.loads(row["told"] or "{}")
    return told


def turned_order(connection: Connection, row: Row) -> tuple[tuple[int, ...] | None, bool]:
    """Return the order of a photographed row, a person's last word over the reader's; and whether it is a person's."""
    words = connection.execute(
        "SELECT option, after FROM settlements WHERE field = 'row' AND (subject = ? AND option = '' OR option = ?) "
        "ORDER BY id",
        (f"{row['sitting']}-{row['taster']:04d}", f"{row['original']}:{row['page']}"),
    )
    last = [after for after in dict(words.fetchall()).values() if after is not None]
    if last:
        return tuple(map(int, last[-1].split())), True
    order = picture_told(row).get("order")
    return tuple(order) if order else None, False
