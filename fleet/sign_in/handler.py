"""What django-axes calls when somebody signed in or was refused."""

import logging
from typing import Any

from axes.handlers.base import AbstractAxesHandler, AxesBaseHandler
from axes.models import AccessAttempt, AccessFailureLog
from django.utils import timezone

from fleet.models import User
from fleet.sign_in import addresses, attempts, devices
from fleet.sign_in.limits import Wait
from fleet.sign_in.names import account_name, key_of
from fleet.sign_in.request import SignInRequest

log = logging.getLogger(__name__)


class SignInHandler(AxesBaseHandler, AbstractAxesHandler):
    """Records refused sign-ins and remembers browsers. The counting is `attempts`, asked by the backend."""

    def is_locked(self, request: SignInRequest, credentials: dict[str, Any] | None = None) -> bool:
        """Whether a password for the name in `credentials` would be refused unseen."""
        name = (credentials or {}).get("username")
        guess = attempts.of(request, account_name(name) or name) if name else None
        return guess is not None and attempts.wait_for(guess, now=timezone.now()) is not None

    def get_failures(self, request: SignInRequest, credentials: dict[str, Any] | None = None) -> int:
        """Wrong passwords counted for the name in `credentials` from this address."""
        name = (credentials or {}).get("username")
        if not name:
            return 0
        return attempts.wrong_here(attempts.of(request, account_name(name) or name), now=timezone.now())

    def user_login_failed(
        self, sender: Any, credentials: dict[str, Any], request: SignInRequest | None = None, **kwargs: Any
    ) -> None:
        """Keep who was guessed, when and from where; a guess refused unseen is only logged."""
        name = credentials.get("username")
        if request is None or not name:
            return
        known = account_name(name)
        who = known or "an unknown name"  # a typed name that nobody has may be a password
        where = addresses.shown(request.axes_ip_address)
        wait: Wait | None = getattr(request, "sign_in_wait", None)
        if wait and getattr(request, "sign_in_refused", False):
            log.info("sign-in of %s from %s refused unseen: %s", who, where, wait.why.value)
            return
        AccessFailureLog.objects.create(
            username=key_of(known or name),
            ip_address=request.axes_ip_address,
            user_agent=request.axes_user_agent,
            path_info=request.path[:255],
            locked_out=wait is not None,
        )
        log.warning("wrong password for %s from %s", who, where)
        if wait:
            log.warning("sign-ins of %s from %s wait until %s", who, where, f"{wait.until:%H:%M:%S} UTC")

    def user_logged_in(self, sender: Any, request: SignInRequest, user: User, **kwargs: Any) -> None:
        """Have the browser remembered."""
        devices.remember(request, key_of(user.get_username()))

    def user_logged_out(self, sender: Any, request: SignInRequest, user: User | None, **kwargs: Any) -> None:
        """A browser stays known: that is what it is known for."""

    def post_save_access_attempt(self, instance: AccessAttempt, **kwargs: Any) -> None:
        """Nothing follows from a count."""

    def post_delete_access_attempt(self, instance: AccessAttempt, **kwargs: Any) -> None:
        """Nothing follows from a count forgotten."""

    def reset_attempts(
        self, *, ip_address: str | None = None, username: str | None = None, ip_or_username: bool = False
    ) -> int:
        """Forget counts, for the commands `axes_reset`, `axes_reset_username` and `axes_reset_ip`."""
        return attempts.forget_some(name=username, network=ip_address, either=ip_or_username)
