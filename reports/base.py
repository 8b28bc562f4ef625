"""What every page shares: its frame, its look, and the policy that lets nothing else in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

import jinja2
from markupsafe import Markup

from reports import offline
from reports.show import DARK, LIGHT
from reports.words import Words

__all__ = ["render_page", "theme_style"]


def render_page(
    template: str,
    head: Mapping[str, Any],
    words: Words,
    *,
    scripts: Sequence[str] = (),
    styles: Sequence[str] = (),
    **values: Any,
) -> str:
    """
    Write a page in the common frame.

    Parameters
    ----------
    template : str
        Name of a template that extends ``base.html``.
    head : mapping
        At least ``player``, ``course``, ``invented`` and ``credit``.
    words : Words
        The language, and the unit that is shown first.
    scripts, styles : sequence of str, optional
        What the page needs besides the common script and style; files of our
        own and numbers, never a text from a file or a person.
    **values : object
        What the template shows: ``title``, ``invented_key``, ``when``,
        ``headline``, ``lede``, and its own.

    Returns
    -------
    str
        An HTML page that fetches nothing; the same text for the same values.
    """
    credit = head["credit"] or ""
    all_scripts = [*scripts, offline.own_file("report.js")]
    all_styles = [*styles, theme_style() + offline.own_file("report.css")]
    return (
        _environment()
        .get_template(template)
        .render(
            w=words,
            head=head,
            units=words.units,
            policy=offline.content_policy(all_scripts, all_styles),
            # All are files of our own or numbers; the policy above names each by its hash.
            scripts=[Markup(script) for script in all_scripts],  # noqa: S704
            styles=[Markup(style) for style in all_styles],  # noqa: S704
            credit_link=min(offline.CREDIT_LINKS) if "openstreetmap" in credit.lower() else None,
            **values,
        )
    )


@cache
def theme_style() -> str:
    """
    Write the colours of both themes as style rules.

    Returns
    -------
    str
        Custom properties; paper is always light.
    """

    def rules(theme: Mapping[str, str]) -> str:
        return ":root{" + ";".join(f"--{name}:{colour}" for name, colour in theme.items()) + "}"

    return f"{rules(LIGHT)}\n@media screen and (prefers-color-scheme: dark){{{rules(DARK)}}}\n"


@cache
def _environment() -> jinja2.Environment:
    return jinja2.Environment(
        loader=jinja2.PackageLoader("reports"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
