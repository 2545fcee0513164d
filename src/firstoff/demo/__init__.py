"""The demo shop: a small maker of water-level loggers, wholly invented."""

from __future__ import annotations

from firstoff.demo.lay_out import lay_out
from firstoff.demo.plans import JobPlan

__all__ = ["JobPlan", "lay_out"]
