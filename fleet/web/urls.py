"""Pages of the fleet: hours, machines, attachments, people, yards, tokens, photos."""

from django.urls import path

from fleet.web import account, attachments, held, machines, media, meters, people, readings, tokens, yards

urlpatterns = [
    path("readings/new/", readings.new, name="reading-new"),
    path("readings/held/", held.held, name="held-readings"),
    path("readings/<int:pk>/", readings.reading, name="reading"),
    path("readings/<int:pk>/decide/", held.decide, name="held-reading-decide"),
    path("machines/new/", machines.new, name="machine-new"),
    path("machines/<int:pk>/edit/", machines.edit, name="machine-edit"),
    path("machines/<int:pk>/retire/", machines.retire, name="machine-retire"),
    path("machines/<int:pk>/bring-back/", machines.bring_back, name="machine-bring-back"),
    path("machines/<int:pk>/meter/", meters.change, name="meter-replace"),
    path("types/new/", machines.type_new, name="type-new"),
    path("attachments/", attachments.listed, name="attachments"),
    path("attachments/new/", attachments.new, name="attachment-new"),
    path("attachments/<int:pk>/mount/", attachments.mount, name="attachment-mount"),
    path("attachments/<int:pk>/remove/", attachments.remove, name="attachment-remove"),
    path("people/", people.listed, name="people"),
    path("people/new/", people.new, name="person-new"),
    path("people/<int:pk>/", people.person, name="person"),
    path("people/<int:pk>/link/", people.link, name="person-link"),
    path("welcome/<str:uid>/<str:secret>/", people.welcome, name="welcome"),
    path("account/", account.account, name="account"),
    path("account/password/", account.password, name="account-password"),
    path("account/mail/", account.mail, name="account-mail"),
    path("account/organisation/", account.choose_organisation, name="account-organisation"),
    path("yards/", yards.listed, name="yards"),
    path("yards/new/", yards.new, name="yard-new"),
    path("yards/<int:pk>/", yards.edit, name="yard"),
    path("settings/", yards.settings, name="organisation-settings"),
    path("tokens/", tokens.listed, name="tokens"),
    path("tokens/new/", tokens.new, name="token-new"),
    path("tokens/<int:pk>/revoke/", tokens.revoke, name="token-revoke"),
    path("media/<path:path>", media.photo, name="media"),
]
