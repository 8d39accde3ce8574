"""Flask without the parts that this service has no use for, which cost a tenth of a millisecond in every request."""

from collections.abc import Callable
from typing import Any

from flask import Flask, Request
from werkzeug.routing import MapAdapter


class PlainFlask(Flask):
    """An application with synchronous views, without redirects and without rules for certain hosts."""

    def ensure_sync(self, func: Callable[..., Any]) -> Callable[..., Any]:
        """The function itself: none here is a coroutine."""
        return func

    def create_url_adapter(self, request: Request | None) -> MapAdapter | None:
        """What matches the path of a request: the host plays no part in it, so it is not looked at."""
        if request is None:
            return super().create_url_adapter(request)
        environ = request.environ
        return MapAdapter(
            self.url_map,
            server_name="",
            script_name="/",
            subdomain="",
            url_scheme="http",
            path_info=request.path,
            default_method=environ["REQUEST_METHOD"],
            query_args=environ.get("QUERY_STRING", ""),
        )
