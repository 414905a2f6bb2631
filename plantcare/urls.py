"""Composes the site: API, pages, documentation, health."""

from __future__ import annotations

from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("admin/", admin.site.urls),
    path("api/v1/", include("findings.urls")),
    path("api/v1/", include("workorders.urls")),
]
