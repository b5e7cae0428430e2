"""Pages as a browser shows them: headless Chromium, and the accessibility rules of axe-core.

axe-core is a general open-source checker of WCAG rules, installed by npm into ``build/node`` by the
test script where npm is there. Tests that need it or Chromium are skipped where they are missing.
"""

from __future__ import annotations

import html
import json
import os
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

_ROOT = Path(__file__).parent.parent
_AXE = Path(os.environ.get("SUNLEDGER_AXE", _ROOT / "build/node/node_modules/axe-core/axe.min.js"))
DESKTOP, PHONE = 1280, 390
_RUN = """
axe.run(document, {resultTypes: ['violations']}).then(found => {
  const all = {
    violations: found.violations, rules: found.passes.length,
    width: document.documentElement.scrollWidth, window: innerWidth,
    background: getComputedStyle(document.body).backgroundColor,
  };
  const pre = document.createElement('pre');
  pre.id = 'found';
  pre.textContent = JSON.stringify(all);
  document.body.replaceChildren(pre);
});
"""


def chromium() -> str:
    """Path of Chromium; skips the test where there is none."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        pytest.skip("Chromium is not installed")
    return path


def accessibility(page: Path, width: int = DESKTOP, dark: bool = False) -> dict[str, Any]:
    """
    What axe-core finds on a page: ``violations``, number of ``rules`` that passed, widths, colour.

    Skips the test where Chromium or axe-core is missing.
    """
    program = chromium()
    if not _AXE.is_file():
        pytest.skip("axe-core is not installed: npm install --prefix build/node axe-core")
    text = page.read_text(encoding="utf-8")
    script = _AXE.read_text(encoding="utf-8").replace("</script", "<\\/script")
    copy = page.with_name(f"{page.stem}.checked.html")
    # a lambda, since the script is full of backslashes
    body = re.sub(
        "</body>", lambda _: f"<script>{script}</script><script>{_RUN}</script></body>", text
    )
    assert body != text
    copy.write_text(body, encoding="utf-8")
    try:
        shown = subprocess.run(
            [
                program,
                "--headless=new",
                "--no-sandbox",
                "--disable-gpu",
                f"--window-size={width},1000",
                f"--blink-settings=preferredColorScheme={0 if dark else 1}",
                "--virtual-time-budget=20000",
                "--dump-dom",
                copy.as_uri(),
            ],
            capture_output=True,
            text=True,
            timeout=120,
            check=True,
        ).stdout
    finally:
        copy.unlink()
    found = re.search(r'<pre id="found">(.*?)</pre>', shown, re.DOTALL)
    assert found is not None, "the checker gave no answer"
    return dict(json.loads(html.unescape(found.group(1))))


def serious(found: dict[str, Any]) -> list[str]:
    """Violations of serious or critical impact: rule, what it asks, and the first element."""
    return [
        f"{v['id']}: {v['help']}: {v['nodes'][0]['html']}"
        for v in found["violations"]
        if v["impact"] in ("serious", "critical")
    ]
