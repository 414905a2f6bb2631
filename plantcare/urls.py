"""Composes the site: API, pages, documentation, health."""

from __future__ import annotations

from django.contrib import admin
from django.urls import include, path

from plantcare.health import livez, readyz
from plantcare.metrics import metrics
from workorders.urls import file_urlpatterns, page_urlpatterns

handler400 = "plantcare.api.failures.bad_request"
handler403 = "plantcare.api.failures.permission_denied"
handler404 = "plantcare.api.failures.page_not_found"
handler500 = "plantcare.api.failures.server_error"

urlpatterns = [
    path("livez", livez, name="livez"),
    path("readyz", readyz, name="readyz"),
    path("metrics", metrics, name="metrics"),
    path("", include("plantcare.api.pages")),
    path("api/v1/", include("plantcare.jobs.urls")),
    path("", include("plantcare.web.urls")),
    path("", include(page_urlpatterns)),
    path("", include(file_urlpatterns)),
    path("admin/", admin.site.urls),
    path("api/v1/", include("findings.urls")),
    path("api/v1/", include("workorders.urls")),
]
