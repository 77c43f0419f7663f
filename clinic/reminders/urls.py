"""Pages of reminders."""

from django.urls import URLPattern, URLResolver, path

from clinic.reminders import reports, views

app_name = "reminders"
urlpatterns: list[URLPattern | URLResolver] = [
    path("messages/", views.message_list, name="messages"),
    path("messages/check/", views.mail_check, name="check"),
    path("messages/hold/", views.hold, name="hold"),
    path("messages/release/", views.release, name="release"),
    path("messages/wordings/", views.wordings, name="wordings"),
    path("messages/addresses/", views.addresses, name="addresses"),
    path("messages/addresses/<uuid:public_id>/lift/", views.lift, name="lift"),
    path("reports/sms", reports.sms, name="sms_report"),
    path("messages/<uuid:public_id>/retry/", views.message_retry, name="retry"),
    path("inbox/", views.inbox, name="inbox"),
    path("health/live", views.live, name="live"),
    path("health/ready", views.ready, name="ready"),
    path("metrics", views.metrics, name="metrics"),
]
