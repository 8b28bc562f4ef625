"""Every word a page shows, in one place, so that it can be translated; and how lengths become words."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from typing import Any

from markupsafe import Markup, escape

from reports.phrases import ENGLISH
from reports.show import in_unit, local_time, round_half_up, whole_length

__all__ = ["Words"]


class Words:
    """
    Phrases of one language, filled with values.

    What comes out is markup: phrases and values are escaped, so a name is
    shown letter by letter whatever it holds. A value is never read as a
    phrase again.

    Parameters
    ----------
    units : {"yd", "m"}
        Length shown first; pages hold both.
    phrases : mapping of str to str, optional
        The language; English by default.

    Examples
    --------
    >>> words = Words("yd")
    >>> str(words("hole", number=4))
    'Hole 4'
    """

    def __init__(self, units: str, phrases: Mapping[str, str] = ENGLISH) -> None:
        self.units = units
        self._phrases = phrases
        self._escaped: dict[str, Markup] = {}

    def __call__(self, key: str, **values: Any) -> Markup:
        """Fill one phrase."""
        phrase = self._escaped.get(key)
        if phrase is None:
            phrase = self._escaped[key] = escape(self._phrases[key])
        return phrase.format(**values) if values else phrase

    def plain(self, key: str, **values: Any) -> str:
        """
        Fill one phrase as plain text, for what is not read as HTML.

        Parameters
        ----------
        key : str
            Name of the phrase.
        **values : object
            What stands in its braces.

        Returns
        -------
        str
            Text, not escaped.
        """
        return self._phrases[key].format(**values)

    def has(self, key: str) -> bool:
        """
        Tell whether there is such a phrase.

        Parameters
        ----------
        key : str
            Name of a phrase.

        Returns
        -------
        bool
            True if there is.
        """
        return key in self._phrases

    def term(self, group: str, code: str) -> Markup:
        """
        Name a code such as a lie; an unknown one is shown as it is.

        Parameters
        ----------
        group : str
            Such as ``"lie"``.
        code : str
            Such as ``"penalty_area"``.

        Returns
        -------
        markupsafe.Markup
            Such as ``penalty area``.
        """
        return Markup("{}").format(self.plain_term(group, code))

    def plain_term(self, group: str, code: str) -> str:
        """
        Name a code as plain text.

        Parameters
        ----------
        group, code : str
            As for `term`.

        Returns
        -------
        str
            Text, not escaped.
        """
        return self._phrases.get(f"{group}_{code}", code) if code else self._phrases["unknown"]

    def terms(self, group: str, codes: str) -> Markup:
        """
        Name several codes.

        Parameters
        ----------
        group : str
            Such as ``"source"``.
        codes : str
            Codes with commas between them, each with or without a count before it.

        Returns
        -------
        markupsafe.Markup
            Their names with commas between them.
        """
        names = []
        for part in codes.split(","):
            count, _, code = part.strip().rpartition(" ")
            name = self.term(group, code)
            names.append(self("count_of", n=count, what=name) if count else name)
        return Markup(", ").join(names)

    def count(self, key: str, number: int, **values: Any) -> Markup:
        """
        Fill a phrase that has a singular and a plural.

        Parameters
        ----------
        key : str
            Name without ``_one`` or ``_many``.
        number : int
            How many; fills ``{n}``.
        **values : object
            Further values.

        Returns
        -------
        markupsafe.Markup
            The phrase.
        """
        return self(f"{key}_one" if abs(number) == 1 else f"{key}_many", n=number, **values)

    def list(self, items: Iterable[Any]) -> Markup:
        """
        Join items as one does in a sentence.

        Parameters
        ----------
        items : iterable
            At least one item.

        Returns
        -------
        markupsafe.Markup
            Such as ``2, 5 and 9``.
        """
        parts: list[Markup] = [escape(item) for item in items]
        if len(parts) == 1:
            return Markup(parts[0])  # noqa: S704 - escaped one line above
        return Markup("{}{}{}").format(Markup(", ").join(parts[:-1]), self("list_and"), parts[-1])

    def length(self, length_m: float | None, *, tag: str = "span", unit: bool = True) -> Markup:
        """
        Write a length in yards and in metres; the page shows one of the two.

        Parameters
        ----------
        length_m : float or None
            Length [m].
        tag : str, optional
            ``span``, or ``tspan`` within a drawing.
        unit : bool, optional
            Whether the unit follows.

        Returns
        -------
        markupsafe.Markup
            Two elements, or a dash where the length is unknown.
        """
        if length_m is None or not math.isfinite(length_m):
            return Markup("–")
        # Figures and a unit of ours need no escaping, and a page has a thousand of them.
        yards, metres = (whole_length(length_m, units) for units in ("yd", "m"))
        if unit:
            yards, metres = f"{yards}\u00a0yd", f"{metres}\u00a0m"
        if yards == metres:
            return Markup(yards)  # noqa: S704
        return Markup(f'<{tag} class="yd">{yards}</{tag}><{tag} class="me">{metres}</{tag}>')  # noqa: S704

    def signed_length(self, length_m: float) -> Markup:
        """
        Write a difference of lengths with its sign, without the unit.

        Parameters
        ----------
        length_m : float
            Difference [m].

        Returns
        -------
        markupsafe.Markup
            Such as ``+5``, or a dash where it is unknown.
        """
        if not math.isfinite(length_m):
            return Markup("–")
        texts = [f"{round_half_up(in_unit(length_m, units)):+d}" for units in ("yd", "m")]
        return self.both(*("0" if text == "+0" else text.replace("-", "−") for text in texts))

    def both(self, yards: Any, metres: Any, *, tag: str = "span") -> Markup:
        """
        Write what differs between yards and metres; the page shows one of the two.

        Parameters
        ----------
        yards, metres : object
            The two texts.
        tag : str, optional
            ``span``, or ``tspan`` within a drawing.

        Returns
        -------
        markupsafe.Markup
            One text if they are equal, else two elements.
        """
        first: Markup = escape(yards)
        second: Markup = escape(metres)
        if first == second:
            return first
        if tag == "tspan":
            return Markup('<tspan class="yd">{}</tspan><tspan class="me">{}</tspan>').format(first, second)
        return Markup('<span class="yd">{}</span><span class="me">{}</span>').format(first, second)

    def plain_length(self, length_m: float, units: str | None = None) -> str:
        """
        Write a length in one unit, as plain text.

        Parameters
        ----------
        length_m : float
            Length [m].
        units : {"yd", "m"}, optional
            The unit; by default the one shown first.

        Returns
        -------
        str
            Such as ``105 yd``.
        """
        text = whole_length(length_m, units or self.units)
        return text if text == "–" else f"{text}\u00a0{units or self.units}"

    def offset(self, long_m: float, right_m: float, *, unit: bool = True) -> Markup:
        """
        Say where a ball finished against its target.

        Parameters
        ----------
        long_m : float
            Past the target; short is negative [m].
        right_m : float
            Right of it; left is negative [m].
        unit : bool, optional
            Whether the unit is written.

        Returns
        -------
        markupsafe.Markup
            Such as ``14 yd short, 9 yd right``.
        """
        return self.both(*(self.plain_offset(long_m, right_m, units, unit=unit) for units in ("yd", "m")))

    def plain_offset(
        self, long_m: float, right_m: float, units: str | None = None, *, unit: bool = True
    ) -> Markup:
        """
        Say where a ball finished, in one unit.

        Parameters
        ----------
        long_m, right_m : float
            As for `offset` [m].
        units : {"yd", "m"}, optional
            The unit; by default the one shown first.
        unit : bool, optional
            Whether it is written.

        Returns
        -------
        markupsafe.Markup
            Such as ``14 yd short, 9 yd right``.
        """
        if not (math.isfinite(long_m) and math.isfinite(right_m)):
            return self("not_compared")
        parts = []
        for value, keys in (
            (long_m, ("offset_short", "offset_long")),
            (right_m, ("offset_left", "offset_right")),
        ):
            size = round_half_up(in_unit(value, units or self.units))
            if size:
                name = f"\u00a0{units or self.units}" if unit else ""
                parts.append(self(keys[size > 0], length=f"{abs(size)}{name}"))
        return Markup(", ").join(parts) if parts else self("on_target")

    def clock(self, time: dt.datetime, zone: str) -> Markup:
        """
        Write the clock time of a place.

        Parameters
        ----------
        time : datetime.datetime
            Zone-aware moment.
        zone : str
            IANA name of the zone.

        Returns
        -------
        markupsafe.Markup
            Such as ``14:05``.
        """
        return escape(f"{local_time(time, zone):%H:%M}")

    def date(self, time: dt.datetime, zone: str) -> Markup:
        """
        Write the date of a place.

        Parameters
        ----------
        time : datetime.datetime
            Zone-aware moment.
        zone : str
            IANA name of the zone.

        Returns
        -------
        markupsafe.Markup
            Such as ``1 July 2026``.
        """
        return self.day(local_time(time, zone).date())

    def day(self, day: dt.date) -> Markup:
        """
        Write a date.

        Parameters
        ----------
        day : datetime.date
            The day.

        Returns
        -------
        markupsafe.Markup
            Such as ``1 July 2026``.
        """
        return self("date", day=day.day, month=self(f"month_{day.month}"), year=day.year)
