"""Where it can be sold, as JSON with a stable schema (docs/json.md)."""

from __future__ import annotations

import math
from typing import Any

from hardtack.keeping.where import Where
from hardtack.units import celsius

SCHEMA_VERSION = 1


def where_json(where: Where) -> dict[str, Any]:
    """The grid and the places as plain numbers and text; null days: nothing fails within three years."""
    return {
        "schema": f"hardtack where {SCHEMA_VERSION}",
        "product": where.product,
        "packed_on": where.packed_on or None,
        "leg": where.leg,
        "leg_begins_on_day": where.begins,
        "temperature_degC": [celsius(T) for T in where.temperatures.tolist()],
        "humidity": where.humidities.tolist(),
        "days": [[day if math.isfinite(day) else None for day in row] for row in where.days.tolist()],
        "fails_first": [[name or None for name in row] for row in where.failures],
        "places": [
            {
                "name": place.name,
                "days": place.days,
                "fails_first": place.failure or None,
                "mean_temperature_degC": celsius(place.temperature),
                "mean_humidity": place.humidity,
                "provenance": place.provenance,
                "source": place.source,
            }
            for place in where.places
        ],
        "remarks": list(where.remarks),
    }
