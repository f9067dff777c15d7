"""Where every password is checked: the sign-in page, the admin, and wherever a person types theirs again."""

from typing import Any, NoReturn, cast

from axes.backends import AxesStandaloneBackend
from axes.exceptions import AxesBackendPermissionDenied
from django.contrib.auth.backends import ModelBackend
from django.http import HttpRequest
from django.utils import timezone

from fleet.models import User
from fleet.sign_in import attempts, hashing
from fleet.sign_in.limits import Guess, Wait
from fleet.sign_in.names import account_name
from fleet.sign_in.request import SignInRequest


class PasswordBackend(AxesStandaloneBackend, ModelBackend):
    """Django's check of a password, behind the counts of wrong ones.

    A guess that must wait is refused without hashing. `request.sign_in_wait` then says how long
    (`fleet.sign_in.waiting`), and the answer becomes 429.
    """

    def authenticate(
        self,
        request: HttpRequest | None,
        username: str | None = None,
        password: str | None = None,
        **kwargs: Any,
    ) -> User:
        """Return whose password this is, named or by mail address.

        Raises PermissionDenied, so that no other backend hashes too.
        """
        if request is None or not username or password is None:
            raise AxesBackendPermissionDenied("A password is checked with its request, name and password.")
        request = cast(SignInRequest, request)
        request.sign_in_wait = None
        name = account_name(username) or username  # what nobody has is hashed and counted as well
        guess = attempts.of(request, name)
        wait = attempts.wait_for(guess, now=timezone.now())
        if wait:
            _refuse(request, wait)
        turns = hashing.KNOWN if guess.device else hashing.STRANGERS
        try:
            with turns.one():
                user = self._checked(request, guess, name, password)
        except hashing.Busy as busy:
            _refuse(request, busy.wait)
        if user is None:
            request.sign_in_wait = attempts.wait_for(guess, now=timezone.now())
            request.axes_locked_out = request.sign_in_wait is not None
            raise AxesBackendPermissionDenied("This is not the password.")
        return user

    def _checked(self, request: SignInRequest, guess: Guess, name: str, password: str) -> User | None:
        guess, wait = attempts.reserve(guess, now=timezone.now())
        if wait:
            _refuse(request, wait)
        if len(password) > hashing.LONGEST_PASSWORD:
            return None
        user = ModelBackend.authenticate(self, request, username=name, password=password)
        if user is not None:
            attempts.right(guess)
        return user


def _refuse(request: SignInRequest, wait: Wait) -> NoReturn:
    request.sign_in_wait = wait
    request.sign_in_refused = request.axes_locked_out = True
    raise AxesBackendPermissionDenied("Too many wrong passwords.")
