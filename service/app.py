"""Where servers find the application: `service.app:create_app()`."""

from service.web.application import create_app

__all__ = ["create_app"]
