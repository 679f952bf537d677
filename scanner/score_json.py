"""The scores as the JSON object of FORMATS, section 5."""

from __future__ import annotations

from typing import Any

from scanner.score import Scores, TasterScore
from scanner.table_score import to_json as table_to_json
from scanner.tameness import to_json as tameness_to_json

FORMAT = "facedown-scores/1"


def to_json(result: Scores) -> dict[str, Any]:
    """Return the scores as the JSON object of FORMATS section 5."""
    return {
        "format": FORMAT,
        "kits": [
            {
                "kit": sitting.kit,
                "title": sitting.session.title,
                "date": sitting.session.date.isoformat(),
                "shuffle": sitting.session.shuffle,
                "uniform_keys": "assumed" if sitting.session.shuffle == "hand" else "by construction",
                "absent": list(sitting.absent),
            }
            for sitting in result.sittings
        ],
        "tasters": [_taster_to_json(taster) for taster in result.tasters],
        "tables": [table_to_json(table) for table in result.tables],
        "hand_shuffles": [
            {"id": who, **tameness_to_json(found), "too_tame": who in result.tame}
            for who, found in result.shuffles.items()
        ],
        "left_to_look_at": list(result.left_to_look_at),
    }


def _taster_to_json(taster: TasterScore) -> dict[str, Any]:
    chance = taster.score.chance_at_least
    return {
        "kit": taster.kit,
        "taster": taster.taster,
        "name": taster.name,
        "claims": dict(taster.claims.numbers),
        "sure": dict(taster.certainty.words),
        "truth": None if taster.told is None else dict(taster.told),
        "truth_from": taster.truth.source,
        "truth_unsettled": list(taster.truth.unsettled),
        "correct": taster.score.correct,
        "of": taster.score.of,
        "chance_at_least": None if chance is None else float(chance),
        "unsettled": list(taster.claims.unsettled),
        "sentence": taster.sentence,
        "missing": list(taster.missing),
        "absent": taster.absent,
        "remarks": list(taster.remarks),
        "left_to_look_at": list(taster.left_to_look_at),
    }
