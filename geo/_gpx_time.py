"""Many xsd:dateTime texts at once to nanoseconds since 1970, faults told apart and never fatal."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

__all__ = ["FIRST_TIME", "IMPOSSIBLE", "LAST_TIME", "MISSING", "OK", "UNREADABLE", "parse_times"]

OK, MISSING, UNREADABLE, IMPOSSIBLE = range(4)

# Source: IS-GPS-200, GPS time begins at 1980-01-06 00:00 UTC; no receiver can know an earlier one.
FIRST_TIME = datetime(1980, 1, 6, tzinfo=UTC)
# common practice, no source: a date after this century is a broken clock.
LAST_TIME = datetime(2100, 1, 1, tzinfo=UTC)

_SECOND_NS = 1_000_000_000
_FIRST_NS = int(FIRST_TIME.timestamp()) * _SECOND_NS
_LAST_NS = int(LAST_TIME.timestamp()) * _SECOND_NS

# As in "2026-05-03T08:15:30.25Z": where the digits and the separators of the canonical form stand.
_DIGITS = (0, 1, 2, 3, 5, 6, 8, 9, 11, 12, 14, 15, 17, 18)
_SEPARATORS = ((4, ord("-")), (7, ord("-")), (10, ord("T")), (13, ord(":")), (16, ord(":")))
_PLAIN = 19
_LONGEST = 30
# A text takes some 300 bytes on its way to a number; so many of them are no weight.
_AT_ONCE = 65_536

# Source: XML Schema part 2, 3.2.7 (dateTime). Beyond it, as devices write it: lower case or a space for T, a comma
# before the fraction, offsets without colon or minutes, a true minus sign.
_LENIENT = re.compile(
    r"\s*(-?\d{4,9})-(\d\d)-(\d\d)[Tt ](\d\d):(\d\d):(\d\d)(?:[.,](\d+))?\s*(?:[Zz]|([+\-−])(\d\d):?(\d\d)?)?\s*",
    re.ASCII,
)


def parse_times(texts: Sequence[str | None]) -> tuple[NDArray[np.int64], NDArray[np.int8]]:
    """
    Parse times as GPX files hold them.

    Parameters
    ----------
    texts : sequence of str or None
        The text of each ``time`` element, None where there is none.

    Returns
    -------
    time_ns : numpy.ndarray of int64, shape (n,)
        Nanoseconds since 1970-01-01 UTC; 0 where the state is not `OK`.
    state : numpy.ndarray of int8, shape (n,)
        `OK`, `MISSING` (None or blank), `UNREADABLE`, or `IMPOSSIBLE` (before
        `FIRST_TIME`, or `LAST_TIME` and later).

    Notes
    -----
    No zone letter means UTC, as the GPX schema says of all times. A leap second (second 60) is the first
    second of the next minute. Digits past the nanosecond are cut off.

    Examples
    --------
    >>> time_ns, state = parse_times(["2001-09-09T03:46:40,5+02:00", "1970-01-01T00:00:01Z"])
    >>> time_ns.tolist(), state.tolist()
    ([1000000000500000000, 0], [0, 3])
    """
    plain = [text or "" for text in texts]
    time_ns = np.zeros(len(plain), dtype=np.int64)
    state = np.full(len(plain), UNREADABLE, dtype=np.int8)
    lengths = np.fromiter(map(len, plain), dtype=np.int64, count=len(plain))
    for length in np.unique(lengths).tolist():
        of_length = np.flatnonzero(lengths == length)
        for begin in range(0, of_length.size, _AT_ONCE):
            rows = of_length[begin : begin + _AT_ONCE]
            if _PLAIN <= length <= _LONGEST:
                done, group_ns = _parse_canonical("".join([plain[row] for row in rows.tolist()]), length)
                time_ns[rows[done]] = group_ns[done]
                state[rows[done]] = OK
                rows = rows[~done]
            for row in rows.tolist():
                time_ns[row], state[row] = _parse_lenient(plain[row])
    outside = (state == OK) & ((time_ns < _FIRST_NS) | (time_ns >= _LAST_NS))
    state[outside] = IMPOSSIBLE
    time_ns[state != OK] = 0
    return time_ns, state


def _parse_canonical(text: str, length: int) -> tuple[NDArray[np.bool_], NDArray[np.int64]]:
    """Parse equally long texts of the canonical form; says for which rows that worked."""
    count = len(text) // length
    if not text.isascii():
        return np.zeros(count, dtype=bool), np.zeros(count, dtype=np.int64)
    chars = np.frombuffer(text.encode("ascii"), dtype=np.uint8).reshape(count, length)
    fraction = max(length - _PLAIN - 2, 0)
    columns = [*_DIGITS, *range(20, 20 + fraction)]
    # Everything that is no digit wraps round to a large number.
    digits = chars[:, columns] - np.uint8(48)
    good: NDArray[np.bool_] = np.asarray((digits <= 9).all(axis=1))
    for column, char in _SEPARATORS:
        good &= chars[:, column] == char
    if length > _PLAIN:
        good &= chars[:, -1] == ord("Z")
    if length > _PLAIN + 1:
        # A point without digits, "30.Z", is left to the lenient parser.
        good &= (chars[:, _PLAIN] == ord(".")) & (fraction > 0)
    value = digits.astype(np.int64)
    year = value[:, 0] * 1000 + value[:, 1] * 100 + value[:, 2] * 10 + value[:, 3]
    month, day, hour, minute, second = (
        value[:, column] * 10 + value[:, column + 1] for column in (4, 6, 8, 10, 12)
    )
    # Years that nanoseconds cannot hold are left to the lenient parser too.
    good &= (year >= 1900) & (year < 2200) & (month >= 1) & (month <= 12) & (hour <= 23) & (minute <= 59)
    good &= second <= 59
    month_number = np.where(good, (year - 1970) * 12 + month - 1, 0)
    first_day, last_day = (
        (month_number + shift).astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
        for shift in (0, 1)
    )
    good &= (day >= 1) & (day <= last_day - first_day)
    days = np.where(good, first_day + day - 1, 0)
    time_ns = (days * 86_400 + hour * 3_600 + minute * 60 + second) * _SECOND_NS
    if fraction:
        weights = 10 ** np.arange(8, 8 - fraction, -1, dtype=np.int64)
        time_ns += value[:, len(_DIGITS) :] @ weights
    return good, np.where(good, time_ns, 0)


def _parse_lenient(text: str) -> tuple[int, int]:
    """Parse one text that is not canonical."""
    if not text.strip():
        return 0, MISSING
    match = _LENIENT.fullmatch(text)
    if match is None:
        return 0, UNREADABLE
    year, month, day, hour, minute, second = (int(group) for group in match.groups()[:6])
    # Source: XML Schema part 2, 3.2.7.1: 24:00:00 is the end of the day.
    end_of_day = hour == 24 and minute == 0 and second == 0 and not (match[7] or "").strip("0")
    if (hour > 23 and not end_of_day) or minute > 59 or second > 60:
        return 0, UNREADABLE
    # Source: XML Schema part 2, 3.2.7.3: offsets reach to 14 hours.
    offset = int(match[9] or 0) * 60 + int(match[10] or 0)
    if offset > 14 * 60:
        return 0, UNREADABLE
    # A leap year, in which 29 February is legal wherever it may be in the year read.
    in_range = 1900 <= year < 2200
    try:
        date = datetime(year if in_range else 2000, month, day, tzinfo=UTC)
    except ValueError:
        return 0, UNREADABLE
    if not in_range:
        return 0, IMPOSSIBLE
    seconds = int(date.timestamp()) + hour * 3_600 + minute * 60 + second
    seconds += -offset * 60 if match[8] == "+" else offset * 60
    return seconds * _SECOND_NS + int((match[7] or "0").ljust(9, "0")[:9]), OK
