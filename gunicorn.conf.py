"""Read by gunicorn wherever it is started in this folder, before what its command line says."""

from typing import Any

from gunicorn.glogging import Logger

from config.log_secrets import WithoutSecrets


class QuietLogger(Logger):
    """Gunicorn's logs of requests and errors, without the keys of one-time links."""

    def setup(self, cfg: Any) -> None:
        """Open the logs."""
        super().setup(cfg)
        for handler in (*self.access_log.handlers, *self.error_log.handlers):
            handler.addFilter(WithoutSecrets())


logger_class = QuietLogger
