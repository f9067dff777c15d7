"""Words of the framework's own pages that its German lacks; marked here, our catalogue has them."""

from django.utils.translation import gettext_noop

WORDS = (
    gettext_noop("After you’ve created a user, you’ll be able to edit more user options."),
    gettext_noop("Conflicting form data submitted. Please try again."),
    gettext_noop("Disable password-based authentication"),
    gettext_noop("Disabled"),
    gettext_noop("Enable password-based authentication"),
    gettext_noop("Enable password-based authentication for this user by setting a password."),
    gettext_noop("Enabled"),
    gettext_noop("Password-based authentication"),
    gettext_noop("Password-based authentication was disabled."),
    gettext_noop("Raw passwords are not stored, so there is no way to see the user’s password."),
    gettext_noop("Reset password"),
    gettext_noop("Set password"),
    gettext_noop("Set password: %s"),
    gettext_noop("This action will <strong>enable</strong> password-based authentication for this user."),
    gettext_noop(
        "Whether the user will be able to authenticate using a password or not. If disabled, they may still "
        "be able to authenticate using other backends, such as Single Sign-On or LDAP."
    ),
)
