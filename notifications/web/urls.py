"""Pages of what was told to whom."""

from django.urls import path

from notifications.web import messages

urlpatterns = [
    path("messages/", messages.sent, name="messages"),
    path("messages/<int:pk>/", messages.message, name="message"),
    path("messages/<int:pk>/again/", messages.again, name="message-again"),
    path("messages/<int:pk>/arrived/", messages.arrived, name="message-arrived"),
]
