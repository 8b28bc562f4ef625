"""The columns of stored results, and what each holds."""

from __future__ import annotations

__all__ = ["COUNTS", "RESULTS"]

# int; whole: an int that may be unknown; float: NaN where unknown; time: UTC; bool; text: "" where unknown.
_SHOT = {
    "hole": "int",
    "shot": "int",
    "visit": "int",
    "club": "text",
    "club_source": "text",
    "club_probability": "float",
    "start_time": "time",
    "distance_m": "float",
    "path_m": "float",
    "progress_m": "float",
    "leave_m": "float",
    "leave_before_m": "float",
    "lie": "text",
    "end_lie": "text",
    "confidence": "float",
    "detour": "bool",
    "sigma_m": "float",
    "end_sigma_m": "float",
    "penalty": "int",
    "stand": "whole",
    "end_stand": "whole",
    "start_lon_deg": "float",
    "start_lat_deg": "float",
    "end_lon_deg": "float",
    "end_lat_deg": "float",
    "note": "text",
}
_HOLE = {
    "hole": "int",
    "par": "whole",
    "stroke_index": "whole",
    "length_m": "float",
    "personal_par": "whole",
    "regulation_shots": "whole",
    "shots": "whole",
    "putts": "whole",
    "penalties": "whole",
    "strokes": "whole",
    "visit": "int",
    "reached_in_regulation": "text",
    "putts_source": "text",
    "strokes_source": "text",
    "card_strokes": "whole",
    "first_time": "time",
    "last_time": "time",
    "confidence": "float",
    "note": "text",
}
_COMPARISON = {
    "hole": "int",
    "shot": "int",
    "role": "text",
    "planned_club": "text",
    "club": "text",
    "club_source": "text",
    "planned_distance_m": "float",
    "distance_m": "float",
    "path_m": "float",
    "long_m": "float",
    "right_m": "float",
    "miss_m": "float",
    "planned_leave_m": "float",
    "leave_m": "float",
    "tolerance_m": "float",
    "within_tolerance": "text",
    "followed": "text",
    "end_lie": "text",
    "sigma_m": "float",
    "note": "text",
}
RESULTS = {"shot": _SHOT, "hole": _HOLE, "comparison": _COMPARISON}

# What lists show of a round without opening its results; None where unknown.
COUNTS = (
    "strokes",
    "par",
    "personal_par",
    "putts",
    "penalties",
    "shots_to_green",
    "regulation_shots",
    "layups",
    "layups_within",
    "layups_unsure",
)
