"""Figures for Prometheus: how many requests, how long the queue, which verdicts."""

from typing import Final

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest
from sqlalchemy import Connection

from dyecast_api.records.inspection_records import verdict_counts
from dyecast_api.records.queue_records import queue_depth, stage_counts

SECONDS: Final = (0.005, 0.01, 0.025, 0.05, 0.1, 0.15, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)
"""Bounds of the histogram of answer times, s."""


class ServerMetrics:
    """The figures of one server process; those of the shop are read from its database when asked for."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        self.requests = Counter(
            "dyecast_requests", "Requests by route and status.", ("route", "status"), registry=self.registry
        )
        self.seconds = Histogram(
            "dyecast_request_seconds",
            "Seconds until an answer begins.",
            ("route",),
            registry=self.registry,
            buckets=SECONDS,
        )
        self.accepted = Counter("dyecast_photos_accepted", "Photos taken in.", registry=self.registry)

    def told(self, connection: Connection, workers: int) -> bytes:
        """Return all figures in Prometheus' text format."""
        registry = CollectorRegistry()
        depth = Gauge("dyecast_queue_depth", "Inspections waiting or being made.", registry=registry)
        depth.set(queue_depth(connection))
        alive = Gauge("dyecast_workers", "Worker processes of this server that run.", registry=registry)
        alive.set(workers)
        by_verdict = Gauge("dyecast_verdicts", "Finished inspections.", ("verdict",), registry=registry)
        for verdict, count in verdict_counts(connection).items():
            by_verdict.labels(verdict).set(count)
        by_stage = Gauge("dyecast_in_stage", "Inspections being made.", ("stage",), registry=registry)
        for stage, count in stage_counts(connection).items():
            by_stage.labels(stage).set(count)
        return bytes(generate_latest(self.registry) + generate_latest(registry))
