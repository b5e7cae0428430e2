"""Special functions of SciPy, loaded when one is asked for: a run of fresh files asks for none."""

from __future__ import annotations

import importlib
from typing import Any


class _Special:
    """Stands for `scipy.special`, which takes longer to load than a month to be judged."""

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        return getattr(importlib.import_module("scipy.special"), name)


special = _Special()
