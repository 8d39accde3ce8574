"""Flask without the parts that this service has no use for, which cost as much as those that it has."""

from collections.abc import Callable, Iterable
from http import HTTPStatus
from typing import Any

from flask import Flask, Request, Response, request
from flask.ctx import RequestContext
from flask.sessions import NullSession, SessionInterface
from werkzeug.routing import MapAdapter, Rule


class PlainFlask(Flask):
    """An application with synchronous views, in blueprints that hold no others.

    Hooks before a request may be the application's and a blueprint's, hooks after it the application's alone. There
    are no sessions, redirects or rules for certain hosts, and nothing is torn down after a request.
    """

    def __init__(self, name: str) -> None:
        super().__init__(name, static_folder=None)
        # A doubled slash is a wrong path, not one to be redirected with a page for browsers.
        self.url_map.merge_slashes = False
        self.session_interface = _NoSessions()
        self.fixed_paths: dict[tuple[str, str], Rule] = {}

    def add_url_rule(self, rule: str, *arguments: Any, **options: Any) -> None:
        """Add a rule; one without variables is found by method and path from then on."""
        super().add_url_rule(rule, *arguments, **options)
        for one in self.url_map.iter_rules():
            if one.rule == rule and not one.arguments:
                self.fixed_paths |= {(method, rule): one for method in one.methods or ()}

    def request_context(self, environ: dict[str, Any]) -> RequestContext:
        """What holds a request while it is answered."""
        return _Context(self, environ)

    def ensure_sync(self, func: Callable[..., Any]) -> Callable[..., Any]:
        """The function itself: none here is a coroutine."""
        return func

    def create_url_adapter(self, request: Request | None) -> MapAdapter | None:
        """What matches the path of a request: the host plays no part in it, so it is not looked at."""
        if request is None:
            return None
        return MapAdapter(
            self.url_map,
            server_name="",
            script_name="/",
            subdomain="",
            url_scheme="http",
            path_info=request.path,
            default_method=request.method,
            query_args=request.environ.get("QUERY_STRING", ""),
        )

    def preprocess_request(self) -> Any:
        """Run the hooks before the request; the first that gives anything has answered it."""
        for owner in (None, request.blueprint):
            for hook in self.before_request_funcs.get(owner, ()):
                answer: Any = hook()
                if answer is not None:
                    return answer
        return None

    def process_response(self, response: Response) -> Response:
        """The response, run through the hooks after the request."""
        for hook in self.after_request_funcs.get(None, ()):
            response = self.ensure_sync(hook)(response)
        return response

    def do_teardown_request(self, exc: BaseException | None = None) -> None:
        """Tear down nothing."""

    def do_teardown_appcontext(self, exc: BaseException | None = None) -> None:
        """Tear down nothing."""


class PlainResponse(Response):
    """A response of which nothing changes on its way out, unless its status or the method says that it has no body."""

    def get_wsgi_response(self, environ: dict[str, Any]) -> tuple[Iterable[bytes], str, list[tuple[str, str]]]:
        """The body, the status and the headers."""
        if self.is_streamed or self.status_code != HTTPStatus.OK or environ["REQUEST_METHOD"] == "HEAD":
            return super().get_wsgi_response(environ)
        return self.iter_encoded(), self.status, self.headers.to_wsgi_list()


class _NoSessions(SessionInterface):
    """The same empty session, which cannot be written to, for every request."""

    def __init__(self) -> None:
        self._empty = NullSession()

    def open_session(self, app: Flask, request: Request) -> NullSession:
        return self._empty


class _Context(RequestContext):
    app: PlainFlask

    def match_request(self) -> None:
        """Find the rule for the path: at once where it has no variables, or else as Flask does."""
        rule = self.app.fixed_paths.get((self.request.method, self.request.path))
        if rule is None:
            super().match_request()
        else:
            self.request.url_rule, self.request.view_args = rule, {}
