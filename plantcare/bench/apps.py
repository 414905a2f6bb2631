"""The app of the benchmarks."""

from django.apps import AppConfig


class BenchConfig(AppConfig):
    """Benchmarks."""

    name = "plantcare.bench"
    label = "bench"
