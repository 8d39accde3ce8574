"""The application: everything is put together here, and importing does nothing."""

import logging
import secrets

from flask import Flask

from service.programs.programme import shipped
from service.readings.cook import EMPTY
from service.readings.setup import Setup
from service.rules.decide import decide
from service.web.audits import audits
from service.web.calibrations import calibrations
from service.web.callers import Callers, anyone
from service.web.conversation import Conversation
from service.web.decisions import decisions
from service.web.documents import documents
from service.web.framework import PlainFlask
from service.web.health import health
from service.web.logs import Handler, Lines
from service.web.metrics import Metrics, metrics_page
from service.web.page import page
from service.web.problems import install
from service.web.programmes import programmes
from service.web.replays import replays
from service.web.settings import SHORTEST_KEY, Settings
from service.web.tokens import Tokens
from service.web.watching import watch


def create_app(settings: Settings | None = None, *, warm: bool = True) -> Flask:
    """The Flask application, configured from the environment unless settings are given.

    The first decision of a programme works out its tables. A warm application has them: that is paid once, before the
    workers part, where one that plays a single log pays for its own programme alone.

    Raises SettingsError or ProgrammeError when it could not serve, OSError for a file of keys that cannot be read.
    """
    settings = settings or Settings.from_environment()
    app = PlainFlask(__name__)
    lines, metrics = Lines(settings.log_level, settings.log_format), Metrics()
    logging.getLogger(app.name).handlers = [Handler(lines)]
    app.extensions[Metrics.NAME] = metrics
    watch(app, metrics, lines)
    install(app)
    guard = Callers(settings.keys_file, app.logger).guard if settings.keys_file else lambda *_: anyone
    conversation = Conversation(_tokens(app, settings), shipped(), settings)
    app.register_blueprint(health)
    app.register_blueprint(documents())
    app.register_blueprint(page())
    app.register_blueprint(metrics_page(metrics, guard("metrics")))
    app.register_blueprint(programmes(shipped(), guard("decide", "replay", "metrics")))
    app.register_blueprint(decisions(conversation, settings, guard("decide")))
    app.register_blueprint(replays(conversation, settings, guard("replay")))
    app.register_blueprint(audits(conversation, settings, guard("replay")))
    app.register_blueprint(calibrations(conversation, settings, guard("replay")))
    for programme in shipped().values() if warm else ():
        decide(programme=programme, setup=Setup(), cook=EMPTY, as_of_ms=0)
    return app


def _tokens(app: Flask, settings: Settings) -> Tokens:
    keys = settings.state_keys
    if not keys:
        app.logger.warning("no state keys are set: a key was made up, and no state outlives this start of the service")
        keys = (secrets.token_bytes(SHORTEST_KEY),)
    return Tokens(keys, purpose="cook state", longest=settings.max_state_characters)
