"""Settings, addresses, task queue and server entry point of the installation; nothing else."""

from config.celery import app as celery_app

__all__ = ["celery_app"]
