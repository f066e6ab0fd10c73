"""Addresses."""

from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("api/v1/", include("services.config.api_urls")),
    path("", include("services.pages.urls")),
]

handler400 = "services.core.handlers.refused"
handler403 = "services.core.handlers.refused"
handler404 = "services.core.handlers.refused"
handler500 = "services.core.handlers.failed"
