"""Physics of a radiation station: one phenomenon a module, arrays in, arrays out, no I/O."""

from __future__ import annotations
