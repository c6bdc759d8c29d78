"""A picture as the renderer draws it."""

from __future__ import annotations

import json
from xml.etree import ElementTree

import pytest
import vl_convert

from hardtack.pictures.render import VEGA_LITE
from hardtack.pictures.style import Spec


def drawn_of(spec: Spec, capfd: pytest.CaptureFixture[str]) -> ElementTree.Element:
    """The picture's SVG; any warning of the renderer fails."""
    json.dumps(spec, allow_nan=False)
    drawn = vl_convert.vegalite_to_svg(spec, vl_version=VEGA_LITE, show_warnings=True)
    said = capfd.readouterr()
    assert said.out + said.err == ""
    return ElementTree.fromstring(drawn)


def words_of(drawn: ElementTree.Element) -> str:
    """All text in the picture, in order."""
    return " ".join(text for node in drawn.iter() if (text := (node.text or "").strip()))
