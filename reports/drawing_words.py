"""What is written at a drawn hole: its labels, and the sentence for those who do not see it."""

from __future__ import annotations

import math

from markupsafe import Markup

from reports import heads
from reports.bundles import known_club
from reports.drawings import HoleDrawing
from reports.sentences import played_club
from reports.show import shorten
from reports.words import Words

__all__ = ["drawing_desc", "labelled"]

# Letters that fit beside a drawn hole.
_LABEL_LETTERS = 10


def labelled(drawing: HoleDrawing | None, words: Words) -> HoleDrawing | None:
    """
    Put words to the labels of a drawing.

    Parameters
    ----------
    drawing : HoleDrawing or None
        A drawn hole; lengths of its labels in metres.
    words : Words
        The language and the units.

    Returns
    -------
    HoleDrawing or None
        The same drawing, its labels with ``number``, ``club``, ``length`` and ``doubtful``.
    """
    for label in drawing.labels if drawing else ():
        row, planned = label["row"], label["side"] == "plan"
        seen = math.isfinite(row["distance_m"])
        club = (row["club"] or words.plain("unknown")) if planned else known_club(row)
        length = words.length(row["distance_m"], tag="tspan", unit=False) if seen or planned else "–"
        left = words.length(row["leave_m"], tag="tspan", unit=False)
        label["number"] = heads.whole(row["shot"])
        # Where the club is not known the length takes its place.
        label["club"] = (
            shorten(club, _LABEL_LETTERS) if club else words.length(row["distance_m"], tag="tspan")
        )
        if not seen and not planned:
            label["length"] = words("drawing_unseen")
        elif club:
            label["length"] = words(
                "drawing_leaves" if planned else "drawing_left", length=length, leave=left
            )
        else:
            label["length"] = words("drawing_only_left", leave=left)
        label.setdefault("doubtful", False)
    return drawing


def drawing_desc(drawing: HoleDrawing | None, words: Words) -> Markup:
    """
    Say in a sentence what a drawing shows, for those who do not see it.

    Parameters
    ----------
    drawing : HoleDrawing or None
        A drawn hole, as `labelled` gives it.
    words : Words
        The language and the units.

    Returns
    -------
    markupsafe.Markup
        Planned and played shots; empty without a drawing.
    """
    parts = []
    for side, key in (("plan", "drawing_desc_plan"), ("played", "drawing_desc_played")):
        shots = [
            words(
                "drawing_desc_shot",
                shot=label["number"],
                club=(label["row"]["club"] or words("unknown"))
                if side == "plan"
                else played_club(label["row"], words),
                distance=words.plain_length(label["row"]["distance_m"]),
            )
            for label in (drawing.labels if drawing else ())
            if label["side"] == side
        ]
        if shots:
            parts.append(words(key, shots=Markup("; ").join(shots)))
    return Markup(" ").join(parts)
