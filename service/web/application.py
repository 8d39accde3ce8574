"""The application: everything is put together here, and importing does nothing."""

import secrets

from flask import Flask

from service.programs.programme import shipped
from service.readings.cook import EMPTY
from service.readings.setup import Setup
from service.rules.decide import decide
from service.web.conversation import Conversation
from service.web.decisions import decisions
from service.web.health import health
from service.web.problems import install
from service.web.programmes import programmes
from service.web.settings import SHORTEST_KEY, Settings
from service.web.tokens import Tokens


def create_app(settings: Settings | None = None) -> Flask:
    """The Flask application, configured from the environment unless settings are given.

    Raises SettingsError or ProgrammeError when it could not serve.
    """
    settings = settings or Settings.from_environment()
    app = Flask(__name__, static_folder=None)
    app.config["MAX_CONTENT_LENGTH"] = settings.max_body_bytes
    # A doubled slash is a wrong path, not one to be redirected with a page for browsers.
    app.url_map.merge_slashes = False
    keys = settings.state_keys
    if not keys:
        app.logger.warning("no state keys are set: a key was made up, and no state outlives this start of the service")
        keys = (secrets.token_bytes(SHORTEST_KEY),)
    tokens = Tokens(keys, purpose="cook state", longest=settings.max_state_characters)
    for programme in shipped().values():
        # The first decision of a programme works out its tables: here it is paid once, before the workers part.
        decide(programme=programme, setup=Setup(), cook=EMPTY, as_of_ms=0)
    install(app)
    app.register_blueprint(health)
    app.register_blueprint(programmes(shipped()))
    app.register_blueprint(decisions(Conversation(tokens, shipped(), settings)))
    return app
