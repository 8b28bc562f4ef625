"""Who may ask, and what every answer says to the browser."""

from __future__ import annotations

import hashlib
import hmac
import re
from ipaddress import ip_address

from flask import Flask, Request, Response, abort, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from trackgolf.web.again import STALE, kept_form
from trackgolf.web.settings import WebSettings, is_loopback

__all__ = [
    "SCRIPT_POLICY",
    "form_token",
    "give_pass",
    "guard",
    "host_is_ours",
    "may_enter",
    "origin_is_ours",
    "pass_cookie",
]

# Nothing runs on pages of forms: they have no script at all.
_POLICY = (
    "default-src 'none'; style-src 'self'; img-src data:; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
SCRIPT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
"""For the pages with a script: files of our own only, nothing written into the page."""

_HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    # "no-referrer" would make browsers send "Origin: null" with our own forms.
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "geolocation=(), camera=(), microphone=()",
    "Cache-Control": "no-store",
}
# Which may be asked for by somebody who has not said the token.
_OPEN = frozenset({"enter", "style"})


def guard(app: Flask, settings: WebSettings) -> None:
    """
    Hold every request to the rules, and put the headers on every answer.

    Parameters
    ----------
    app : flask.Flask
        The application.
    settings : WebSettings
        Where it is served.
    """

    @app.before_request
    def _check() -> Response | tuple[str, int] | None:
        if not host_is_ours(request.headers.get("Host", ""), settings):
            abort(403, "This name is not one of this page.")
        if _built_in_elsewhere(request):
            abort(403, "Another page asked for this.")
        if request.method not in ("GET", "HEAD"):
            if not origin_is_ours(request):
                abort(403, "This change was asked for by another page.")
            known = may_enter(request, settings) or (request.endpoint == "enter")
            if not known or not _same(request.form.get("form_token", ""), form_token(settings)):
                return _late(settings)
        elif (
            settings.token is not None and request.endpoint not in _OPEN and not may_enter(request, settings)
        ):
            return render_template("enter.html"), 401
        return None

    @app.after_request
    def _finish(response: Response) -> Response:
        for name, value in _HEADERS.items():
            response.headers.setdefault(name, value)
        response.headers.setdefault("Content-Security-Policy", _POLICY)
        if settings.token is None and request.method == "GET" and response.status_code < 400:
            give_pass(response, settings)
        return response


def host_is_ours(host: str, settings: WebSettings) -> bool:
    """
    Say whether a request names this page, and not a name that somebody pointed at it.

    Parameters
    ----------
    host : str
        The Host header.
    settings : WebSettings
        Where the page is served.

    Returns
    -------
    bool
        True for ``localhost`` and addresses in digits, which no name server
        can turn elsewhere; on loopback for those of this machine only.
    """
    found = re.fullmatch(r"(\[[0-9A-Fa-f:.]+\]|[0-9A-Za-z.-]+)(?::([0-9]{1,5}))?", host)
    if found is None or int(found[2] or 80) != settings.port:
        return False
    name = found[1].strip("[]").lower()
    if is_loopback(name):
        return True
    if settings.token is None:
        return False
    try:
        ip_address(name)
    except ValueError:
        return False
    return True


def origin_is_ours(asked: Request) -> bool:
    """
    Say whether a change was asked for by a page of ours.

    Parameters
    ----------
    asked : flask.Request
        The request.

    Returns
    -------
    bool
        By what the browser says of itself, and False where it says nothing.
    """
    site, origin = asked.headers.get("Sec-Fetch-Site"), asked.headers.get("Origin")
    if site is None and origin is None:
        return False
    if site is not None and site != "same-origin":
        return False
    return origin is None or origin == f"http://{asked.headers.get('Host', '')}"


def form_token(settings: WebSettings) -> str:
    """
    Give what every form must carry.

    Parameters
    ----------
    settings : WebSettings
        The secret.

    Returns
    -------
    str
        Hexadecimal digits.
    """
    return _mark(settings, "form")


def pass_cookie(settings: WebSettings) -> str:
    """
    Give what the cookie of a visitor must be.

    Parameters
    ----------
    settings : WebSettings
        The secret.

    Returns
    -------
    str
        Hexadecimal digits.
    """
    return _mark(settings, "visitor")


def may_enter(asked: Request, settings: WebSettings) -> bool:
    """
    Say whether a request carries the cookie.

    Parameters
    ----------
    asked : flask.Request
        The request.
    settings : WebSettings
        The secret.

    Returns
    -------
    bool
        Whether it does.
    """
    return _same(asked.cookies.get(settings.cookie, ""), pass_cookie(settings))


def give_pass(response: AnyResponse, settings: WebSettings) -> None:
    """
    Give a visitor the cookie.

    Parameters
    ----------
    response : werkzeug.wrappers.Response
        The answer to put it on.
    settings : WebSettings
        The secret.
    """
    response.set_cookie(settings.cookie, pass_cookie(settings), httponly=True, samesite="Strict", path="/")


def _late(settings: WebSettings) -> Response:
    """Answer a form that this start did not give out, though a page of ours sent it: it is shown, not done."""
    if request.accept_mimetypes.best == "application/json":
        abort(403, f"{STALE} Load its page again.")
    enter = settings.token is not None and not may_enter(request, settings)
    answer = kept_form(STALE, 403, enter=enter)
    if settings.token is None:
        give_pass(answer, settings)
    return answer


def _built_in_elsewhere(asked: Request) -> bool:
    """Say whether another site asks for more than to be left for a page of ours: each page costs work."""
    if asked.headers.get("Sec-Fetch-Site") not in ("cross-site", "same-site"):
        return False
    return (asked.headers.get("Sec-Fetch-Mode"), asked.headers.get("Sec-Fetch-Dest")) != (
        "navigate",
        "document",
    )


def _mark(settings: WebSettings, what: str) -> str:
    return hmac.new(settings.secret.encode(), what.encode(), hashlib.sha256).hexdigest()


def _same(given: str, right: str) -> bool:
    return hmac.compare_digest(given.encode("utf-8", "replace"), right.encode())
