"""How sure a date is, and what to measure next, as JSON with a documented, stable schema (`docs/json.md`)."""

from __future__ import annotations

import math
from typing import Any

from hardtack.keeping.certainty import Band, Certainty
from hardtack.keeping.certainty_words import first_words
from hardtack.keeping.measure_next import Next


def certainty_json(sure: Certainty) -> dict[str, Any]:
    """Every part of the answer as plain numbers, text, lists and mappings; days from packing, None beyond the journey."""
    return {
        "schema": "hardtack certainty 1",
        "version": sure.version,
        "product": sure.product,
        "sentence": sure.sentence,
        "share": sure.share,
        "confidence": sure.confidence,
        "day": sure.day,
        "date": sure.date(sure.day) or None,
        "day_sampling_error": _finite(sure.day_error),
        "plain_day": sure.plain,
        "plain_failure": sure.plain_failure,
        "median_day": sure.median,
        "day_10_percent": sure.low,
        "day_90_percent": sure.high,
        "share_beyond_journey": sure.capped,
        "share_not_followed": sure.lost,
        "journey_days": sure.end,
        "samples": sure.samples,
        "scrambles": sure.scrambles,
        "states_of_not_knowing": sure.states,
        "packs_in_each_state": sure.packs,
        "seed": sure.seed,
        "first_failures": [
            {
                "name": one.name or None,
                "layer": one.layer or None,
                "words": first_words(one),
                "share": one.share,
            }
            for one in sure.first
        ],
        "unsure": [
            {"name": one.name, "spread": one.told, "what": one.spread, "why": one.why} for one in sure.unsure
        ],
        "packs_good": {
            "day": sure.good_days.tolist(),
            "with_confidence": sure.good_low.tolist(),
            "median": sure.good_median.tolist(),
            "other_end": sure.good_high.tolist(),
        },
        "bands": {
            "day": sure.band_days.tolist(),
            "life": _band(sure.life),
            "activity": [_band(band) for band in sure.bands],
        },
        "dates": [_finite(day) for day in sure.dates.tolist()],
        "told": list(sure.told),
    }


def _finite(number: float) -> float | None:
    return number if math.isfinite(number) else None


def _band(band: Band) -> dict[str, Any]:
    return {
        "name": band.name,
        "plain": [_finite(x) for x in band.plain.tolist()],
        "10_percent": [_finite(x) for x in band.low.tolist()],
        "median": [_finite(x) for x in band.median.tolist()],
        "90_percent": [_finite(x) for x in band.high.tolist()],
    }


def next_json(found: Next) -> dict[str, Any]:
    """What to measure next as plain data."""
    return {
        "schema": "hardtack measure-next 1",
        "version": found.version,
        "product": found.product,
        "sentence": found.sentence,
        "share": found.share,
        "confidence": found.confidence,
        "day": found.day,
        "median_day": found.median,
        "share_beyond_journey": found.capped,
        "samples": found.samples,
        "seed": found.seed,
        "measurements": [
            {
                "name": one.name,
                "for": list(one.of),
                "how": one.how,
                "error": one.error,
                "effort_days": one.effort,
                "wait_days": one.wait,
                "day_then": one.day,
                "days_firmer": one.gain,
                "days_firmer_per_effort_day": one.per_effort,
                "provenance": one.provenance,
            }
            for one in found.measurements
        ],
        "variance": [
            {
                "name": one.name, "spread": one.told, "what": one.spread, "first": one.first, "total": one.total,
                "first_error": one.first_error, "total_error": one.total_error,
            }
            for one in found.shares
        ],
        "told": list(found.told),
    }  # fmt: skip
