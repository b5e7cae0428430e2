"""sunledger: from solar radiation logger voltages to a traceable CF NetCDF archive."""

from __future__ import annotations

__version__ = "0.1.0"
