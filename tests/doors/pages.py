"""Every page. A new one is refused by the tests until it stands here."""

from tests.doors.door import ANYBODY_SIGNED_IN as ANY
from tests.doors.door import Door
from tests.doors.fleet_pages import FLEET
from tests.doors.servicing_pages import SERVICING

NOTIFICATIONS = [
    Door("messages", get=ANY),
    Door("message", get="manage_people", keys={"pk": "message"}, unseen=True),
    Door("message-again", post="manage_people", keys={"pk": "message"}),
    Door("message-arrived", post="manage_people", keys={"pk": "interrupted"}),
]

PAGES = [*FLEET, *SERVICING, *NOTIFICATIONS]

# Open to everybody, and with nothing of any organisation on them: name, how it is looked at, what it answers.
PUBLIC = {
    "health": ("get", {200}),
    "health-web": ("get", {200}),
    "login": ("get", {200}),
    "logout": ("post", {302}),
    "api": ("get", {200}),
    "api-schema": ("get", {200}),
    "service-worker": ("get", {200}),
}
# The link itself is the key: kept by tests/fleet/web/test_links.py
KEY_IN_ADDRESS = {"welcome", "welcome-password", "join", "join-password"}
