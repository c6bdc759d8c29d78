"""The drawing code for the browser, out of the installed vl-convert; made once and kept in the user's cache."""

from __future__ import annotations

import contextlib
import hashlib
import os
import sys
import tempfile
import threading
from functools import cache
from importlib.metadata import version
from pathlib import Path

from hardtack.pictures.render import VEGA_LITE

_making = threading.Lock()


def drawing_code() -> bytes:
    """Vega, Vega-Lite and what draws without building code from text, as one script. The first call on a
    machine takes some seconds; a cache that cannot be written only costs them again."""
    with _making:
        return _code()


@cache
def _code() -> bytes:
    import vl_convert

    name = f"vega-{version('vl-convert-python')}-{VEGA_LITE}.js"
    kept = _cache_folder() / name
    with contextlib.suppress(OSError):
        code = kept.read_bytes()
        if hashlib.sha256(code).hexdigest() == kept.with_suffix(".sha256").read_text("ascii"):
            return code
    made: str = vl_convert.javascript_bundle(
        "window.drawFigure = (place, spec) => vegaEmbed(place, spec, "
        "{ast: true, actions: false, defaultStyle: false, tooltip: false, hover: false, renderer: 'svg'});",
        vl_version=VEGA_LITE,
    )
    code = made.encode()
    with contextlib.suppress(OSError):
        kept.parent.mkdir(parents=True, exist_ok=True)
        for target, content in (
            (kept, code),
            (kept.with_suffix(".sha256"), hashlib.sha256(code).hexdigest().encode()),
        ):
            handle, temporary = tempfile.mkstemp(dir=kept.parent)
            with os.fdopen(handle, "wb") as stream:
                stream.write(content)
            os.replace(temporary, target)
    return code


def _cache_folder() -> Path:
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = Path.home() / "Library" / "Caches"
    else:
        base = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return base / "hardtack"
